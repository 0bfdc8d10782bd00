#include "service/access/limited_log.h"

#include "absl/strings/str_cat.h"

namespace gaitshelf::service {

void LimitedLog::Write(const std::string& line, Clock::time_point now) {
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
    log_(absl::StrCat("refused: ", left_out, " more, left out here"));
  }
  log_(line);
}

}  // namespace gaitshelf::service
