// Collects the lines of a log, from any thread.
#ifndef GAITSHELF_TESTS_SUPPORT_LOG_LINES_H_
#define GAITSHELF_TESTS_SUPPORT_LOG_LINES_H_

#include <mutex>
#include <string>
#include <vector>

namespace gaitshelf::test {

class LogLines {
 public:
  void Add(const std::string& line) {
    const std::lock_guard<std::mutex> lock(mutex_);
    lines_.push_back(line);
  }
  std::vector<std::string> lines() const {
    const std::lock_guard<std::mutex> lock(mutex_);
    return lines_;
  }

 private:
  mutable std::mutex mutex_;
  std::vector<std::string> lines_;
};

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SUPPORT_LOG_LINES_H_
