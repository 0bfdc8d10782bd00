// Lets a test meet a full disk: while it lives, no file of this process may grow beyond a size.
#ifndef GAITSHELF_TESTS_SUPPORT_SIZE_LIMIT_H_
#define GAITSHELF_TESTS_SUPPORT_SIZE_LIMIT_H_

#include <csignal>
#include <cstdint>

#include <sys/resource.h>

namespace gaitshelf::test {

class SizeLimit {
 public:
  explicit SizeLimit(std::uintmax_t most_bytes) {
    std::signal(SIGXFSZ, SIG_IGN);
    getrlimit(RLIMIT_FSIZE, &before_);
    const rlimit limit{.rlim_cur = most_bytes, .rlim_max = before_.rlim_max};
    setrlimit(RLIMIT_FSIZE, &limit);
  }
  SizeLimit(const SizeLimit&) = delete;
  SizeLimit& operator=(const SizeLimit&) = delete;
  ~SizeLimit() { setrlimit(RLIMIT_FSIZE, &before_); }

 private:
  rlimit before_{};
};

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SUPPORT_SIZE_LIMIT_H_
