// Notices workers that give no sign of life any more.
#ifndef GAITSHELF_SERVICE_JOBS_SILENCE_WATCH_H_
#define GAITSHELF_SERVICE_JOBS_SILENCE_WATCH_H_

#include <chrono>
#include <cstdint>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "service/library/library.h"

namespace gaitshelf::service {

// Silence is measured on our own steady clock, from when a heartbeat was first seen: clocks of
// hosts differ, and wall clocks jump. For one thread.
class SilenceWatch {
 public:
  explicit SilenceWatch(double lost_after_s) : lost_after_s_(lost_after_s) {}

  // Looks at a running job; true when it has been silent for too long.
  bool IsSilent(const RunningJob& job);
  // Forgets all jobs but these.
  void KeepOnly(const std::vector<RunningJob>& running);
  // Begins anew, after a time in which nobody could give signs of life.
  void Clear() { signs_.clear(); }

 private:
  using Clock = std::chrono::steady_clock;

  struct Sign {
    std::int64_t heartbeat_us = 0;  // as it stands in the library
    Clock::time_point seen_time{};  // when it was first seen so
  };

  const double lost_after_s_;
  std::map<std::pair<std::string, int>, Sign> signs_;  // by job and attempt
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_JOBS_SILENCE_WATCH_H_
