// Lets only so many lines a second into a log: whoever knocks at the door a thousand times must not
// fill the disk.
#ifndef GAITSHELF_SERVICE_LOG_LIMITED_LOG_H_
#define GAITSHELF_SERVICE_LOG_LIMITED_LOG_H_

#include <chrono>
#include <mutex>
#include <utility>

#include "service/log/event.h"

namespace gaitshelf::service {

class LimitedLog {
 public:
  using Clock = std::chrono::steady_clock;

  LimitedLog(EventLog log, int lines_per_second)
      : log_(std::move(log)), lines_per_second_(lines_per_second) {}
  LimitedLog(const LimitedLog&) = delete;
  LimitedLog& operator=(const LimitedLog&) = delete;

  // Writes the event, or counts it; the count follows with the next one that is written. From any
  // thread.
  void Write(const LogEvent& event, Clock::time_point now = Clock::now());

 private:
  const EventLog log_;
  const int lines_per_second_;
  std::mutex mutex_;
  Clock::time_point second_end_;
  int written_ = 0;  // in this second
  int left_out_ = 0;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LOG_LIMITED_LOG_H_
