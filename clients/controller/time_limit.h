// Does something when what it covers takes too long: what waits for a server must not wait for ever
// on one that is there and says nothing.
#ifndef GAITSHELF_CLIENTS_CONTROLLER_TIME_LIMIT_H_
#define GAITSHELF_CLIENTS_CONTROLLER_TIME_LIMIT_H_

#include <chrono>
#include <condition_variable>
#include <functional>
#include <mutex>
#include <thread>
#include <utility>

namespace gaitshelf::client {

class TimeLimit {
 public:
  // Calls `act` once, on a thread of its own, unless this is destroyed within the limit, s. Whoever
  // destroys it waits for `act` to return.
  TimeLimit(double limit_s, std::function<void()> act)
      : act_(std::move(act)), thread_([this, limit_s] { Run(limit_s); }) {}
  ~TimeLimit() {
    {
      const std::lock_guard<std::mutex> lock(mutex_);
      is_over_ = true;
    }
    over_.notify_all();
    thread_.join();
  }
  TimeLimit(const TimeLimit&) = delete;
  TimeLimit& operator=(const TimeLimit&) = delete;

 private:
  void Run(double limit_s) {
    std::unique_lock<std::mutex> lock(mutex_);
    const std::chrono::duration<double> limit(limit_s);
    if (!over_.wait_for(lock, limit, [this] { return is_over_; })) {
      lock.unlock();
      act_();
    }
  }

  const std::function<void()> act_;
  std::mutex mutex_;
  std::condition_variable over_;
  bool is_over_ = false;
  std::thread thread_;  // the last: it uses the others
};

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CONTROLLER_TIME_LIMIT_H_
