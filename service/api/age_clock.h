// The wall clock for ages that count days, after which something is removed for good.
#ifndef GAITSHELF_SERVICE_API_AGE_CLOCK_H_
#define GAITSHELF_SERVICE_API_AGE_CLOCK_H_

#include <functional>

#include "absl/time/time.h"

namespace gaitshelf::service {

// Never runs ahead of the time that has really passed since it was made: a wall clock that is set
// forward makes nothing older. From any thread.
class AgeClock {
 public:
  AgeClock();
  // For tests: the wall clock, and one that counts from any moment and is never set.
  AgeClock(std::function<absl::Time()> wall, std::function<absl::Duration()> passed);

  // The wall clock, less what it was set forward by.
  [[nodiscard]] absl::Time Now() const;
  // How much the wall clock was set forward by; 0 when it was not, or was set back.
  [[nodiscard]] absl::Duration Lead() const;

 private:
  const std::function<absl::Time()> wall_;
  const std::function<absl::Duration()> passed_;
  const absl::Time start_;             // of the wall clock
  const absl::Duration start_passed_;  // of the other
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_AGE_CLOCK_H_
