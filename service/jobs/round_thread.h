// Does something again and again on a thread of its own.
#ifndef GAITSHELF_SERVICE_JOBS_ROUND_THREAD_H_
#define GAITSHELF_SERVICE_JOBS_ROUND_THREAD_H_

#include <condition_variable>
#include <functional>
#include <mutex>
#include <thread>

namespace gaitshelf::service {

// Members may be called from any thread but its own. As a member of a class it comes last, so that
// its thread meets the others whole.
class RoundThread {
 public:
  // Begins at once. Between two rounds lies the period, or less after Wake; `end` is called once,
  // after the last round, and may be absent.
  RoundThread(double period_s, std::function<void()> round, std::function<void()> end);
  RoundThread(const RoundThread&) = delete;
  RoundThread& operator=(const RoundThread&) = delete;
  // Does what Stop does.
  ~RoundThread();

  void Wake();
  // Returns after the end.
  void Stop();

 private:
  void Run();

  const double period_s_;
  const std::function<void()> round_;
  const std::function<void()> end_;
  std::mutex stop_mutex_;  // one caller of Stop at a time
  std::mutex mutex_;
  std::condition_variable wish_;
  bool is_woken_ = false;     // under mutex_
  bool is_stopping_ = false;  // under mutex_
  std::thread thread_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_JOBS_ROUND_THREAD_H_
