#include "service/api/age_clock.h"

#include <algorithm>
#include <ctime>
#include <utility>

#include "absl/time/clock.h"

namespace gaitshelf::service {
namespace {

// Since the machine was started, its sleep included; a steady_clock stands still meanwhile.
absl::Duration PassedSinceBoot() {
  timespec passed{};
  clock_gettime(CLOCK_BOOTTIME, &passed);
  return absl::DurationFromTimespec(passed);
}

}  // namespace

AgeClock::AgeClock() : AgeClock(absl::Now, PassedSinceBoot) {}

AgeClock::AgeClock(std::function<absl::Time()> wall, std::function<absl::Duration()> passed)
    : wall_(std::move(wall)),
      passed_(std::move(passed)),
      start_(wall_()),
      start_passed_(passed_()) {}

absl::Time AgeClock::Now() const { return std::min(wall_(), start_ + (passed_() - start_passed_)); }

absl::Duration AgeClock::Lead() const {
  return std::max(wall_() - (start_ + (passed_() - start_passed_)), absl::ZeroDuration());
}

}  // namespace gaitshelf::service
