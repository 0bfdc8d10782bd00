#include "service/log/limited_log.h"

namespace gaitshelf::service {

void LimitedLog::Write(const LogEvent& event, Clock::time_point now) {
  int left_out = 0;
  {
    const std::lock_guard<std::mutex> lock(mutex_);
    if (now >= second_end_) {
      second_end_ = now + std::chrono::seconds(1);
      written_ = 0;
    }
    if (written_ == lines_per_second_) {
      ++left_out_;
      return;
    }
    ++written_;
    left_out = left_out_;
    left_out_ = 0;
  }
  if (left_out > 0) {
    Tell(log_,
         {.level = LogLevel::kWarning,
          .what = "lines are left out",
          .fields = {{"like", event.what}, {"count", left_out}}});
  }
  Tell(log_, event);
}

}  // namespace gaitshelf::service
