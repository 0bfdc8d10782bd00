// Finds a process that a test did not start itself.
#ifndef GAITSHELF_TESTS_SUPPORT_FIND_PROCESS_H_
#define GAITSHELF_TESTS_SUPPORT_FIND_PROCESS_H_

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

#include <sys/types.h>

namespace gaitshelf::test {

// The process with a whole word on its command line; 0 when there is none.
inline pid_t FindProcess(const std::string& word) {
  std::error_code error;
  for (const auto& entry : std::filesystem::directory_iterator("/proc", error)) {
    const pid_t id = std::atoi(entry.path().filename().c_str());
    std::ifstream file(entry.path() / "cmdline");
    const std::string line((std::istreambuf_iterator<char>(file)),
                           std::istreambuf_iterator<char>());
    // Words end in a zero.
    if (id > 0 && line.find('\0' + word + '\0') != std::string::npos) {
      return id;
    }
  }
  return 0;
}

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SUPPORT_FIND_PROCESS_H_
