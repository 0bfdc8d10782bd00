// Tells long calls that the server stops. Thread-safe; raised once, never lowered.
#ifndef GAITSHELF_SERVICE_API_STOP_SIGNAL_H_
#define GAITSHELF_SERVICE_API_STOP_SIGNAL_H_

#include <chrono>
#include <condition_variable>
#include <mutex>

namespace gaitshelf::service {

class StopSignal {
 public:
  void Raise() {
    {
      const std::lock_guard<std::mutex> lock(mutex_);
      is_raised_ = true;
    }
    changed_.notify_all();
  }

  bool is_raised() const {
    const std::lock_guard<std::mutex> lock(mutex_);
    return is_raised_;
  }

  // Waits until the time or until the signal is raised; returns whether it is raised.
  bool WaitUntil(std::chrono::steady_clock::time_point time) const {
    std::unique_lock<std::mutex> lock(mutex_);
    return changed_.wait_until(lock, time, [this] { return is_raised_; });
  }

 private:
  mutable std::mutex mutex_;
  mutable std::condition_variable changed_;
  bool is_raised_ = false;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_STOP_SIGNAL_H_
