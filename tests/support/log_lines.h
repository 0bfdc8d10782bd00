// Collects the events of a log as lines, from any thread.
#ifndef GAITSHELF_TESTS_SUPPORT_LOG_LINES_H_
#define GAITSHELF_TESTS_SUPPORT_LOG_LINES_H_

#include <mutex>
#include <string>
#include <vector>

#include "absl/strings/str_join.h"
#include "absl/time/time.h"
#include "service/log/event.h"

namespace gaitshelf::test {

class LogLines {
 public:
  // Returns a log that puts its lines here, in logfmt; this outlives it.
  service::EventLog log() {
    return [this](const service::LogEvent& event) {
      const std::lock_guard<std::mutex> lock(mutex_);
      lines_.push_back(LogLine(event, service::LogFormat::kLogfmt, absl::UnixEpoch()));
    };
  }
  std::vector<std::string> lines() const {
    const std::lock_guard<std::mutex> lock(mutex_);
    return lines_;
  }
  std::string text() const { return absl::StrJoin(lines(), "\n"); }

 private:
  mutable std::mutex mutex_;
  std::vector<std::string> lines_;
};

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SUPPORT_LOG_LINES_H_
