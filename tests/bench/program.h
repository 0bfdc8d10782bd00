// A program that a measurement runs beside itself, and what the system says of its process.
#ifndef GAITSHELF_TESTS_BENCH_PROGRAM_H_
#define GAITSHELF_TESTS_BENCH_PROGRAM_H_

#include <memory>
#include <string>
#include <vector>

#include <sys/types.h>

#include "absl/status/statusor.h"

namespace gaitshelf::bench {

// Processor time of a process so far, s.
double ProcessSeconds(pid_t process);
// Its resident memory now, and the most that it has had, MB.
struct Memory {
  double now_mb = 0.0;
  double peak_mb = 0.0;
};
Memory ProcessMemory(pid_t process);

// A running server. It is ended politely with its owner.
class Program {
 public:
  // Starts it and waits for a line that ends in "is ready on ADDRESS ADDRESS ...".
  //
  // Errors:
  //   kUnavailable   the program ends, or says nothing of the kind for a minute
  static absl::StatusOr<std::unique_ptr<Program>> Start(const std::vector<std::string>& command);
  Program(const Program&) = delete;
  Program& operator=(const Program&) = delete;
  ~Program();

  [[nodiscard]] pid_t process() const { return process_; }
  // Where it serves, in the order in which it was told to.
  [[nodiscard]] const std::vector<std::string>& addresses() const { return addresses_; }
  // From the start of the process to its line, s.
  [[nodiscard]] double start_s() const { return start_s_; }

 private:
  Program(pid_t process, int output) : process_(process), output_(output) {}

  const pid_t process_;
  const int output_;  // the end of the pipe from which its standard output is read
  std::vector<std::string> addresses_;
  double start_s_ = 0.0;
};

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_PROGRAM_H_
