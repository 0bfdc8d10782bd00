// Time that a bench's own work takes: of the processor, which other programs on the machine disturb
// less than they do the clock on the wall.
#ifndef GAITSHELF_TESTS_BENCH_PROCESSOR_TIME_H_
#define GAITSHELF_TESTS_BENCH_PROCESSOR_TIME_H_

#include <algorithm>
#include <chrono>
#include <ctime>
#include <limits>

namespace gaitshelf::bench {

// Processor time of this process, all threads.
inline double ProcessorSeconds() {
  timespec now{};
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

// Starts when it is made.
class Stopwatch {
 public:
  double processor_s() const { return ProcessorSeconds() - processor_start_s_; }
  double wall_s() const {
    const std::chrono::duration<double> taken = std::chrono::steady_clock::now() - wall_start_;
    return taken.count();
  }

 private:
  double processor_start_s_ = ProcessorSeconds();
  std::chrono::steady_clock::time_point wall_start_ = std::chrono::steady_clock::now();
};

// The least processor time of several calls: what else the machine does to caches only adds.
template <typename Call>
double LeastSeconds(int times, const Call& call) {
  double least_s = std::numeric_limits<double>::infinity();
  for (int i = 0; i < times; ++i) {
    const Stopwatch watch;
    call();
    least_s = std::min(least_s, watch.processor_s());
  }
  return least_s;
}

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_PROCESSOR_TIME_H_
