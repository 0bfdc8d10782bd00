#include "service/api/age_clock.h"

#include <gtest/gtest.h>

#include "absl/time/clock.h"

namespace gaitshelf::service {
namespace {

TEST(AgeClockTest, FollowsAClockThatIsNotSet) {
  absl::Time wall = absl::FromUnixSeconds(1'000'000);
  absl::Duration passed = absl::Hours(3);
  const AgeClock clock([&wall] { return wall; }, [&passed] { return passed; });
  EXPECT_EQ(clock.Now(), wall);
  wall += absl::Hours(48);
  passed += absl::Hours(48);
  EXPECT_EQ(clock.Now(), wall);
  EXPECT_EQ(clock.Lead(), absl::ZeroDuration());
}

TEST(AgeClockTest, LeavesOutWhatTheClockWasSetForward) {
  absl::Time wall = absl::FromUnixSeconds(1'000'000);
  absl::Duration passed;
  const AgeClock clock([&wall] { return wall; }, [&passed] { return passed; });
  const absl::Time start = wall;
  wall += absl::Hours(1000);
  passed += absl::Hours(2);
  EXPECT_EQ(clock.Now(), start + absl::Hours(2));
  EXPECT_EQ(clock.Lead(), absl::Hours(998));
  // Set right again.
  wall -= absl::Hours(998);
  EXPECT_EQ(clock.Now(), start + absl::Hours(2));
  EXPECT_EQ(clock.Lead(), absl::ZeroDuration());
}

TEST(AgeClockTest, FollowsAClockThatIsSetBack) {
  absl::Time wall = absl::FromUnixSeconds(1'000'000);
  const AgeClock clock([&wall] { return wall; }, [] { return absl::ZeroDuration(); });
  wall -= absl::Hours(5);
  EXPECT_EQ(clock.Now(), wall);
  EXPECT_EQ(clock.Lead(), absl::ZeroDuration());
}

TEST(AgeClockTest, TellsTheTimeOfThisMachine) {
  const AgeClock clock;
  EXPECT_LE(clock.Now(), absl::Now());
  EXPECT_GT(clock.Now(), absl::Now() - absl::Minutes(1));
}

}  // namespace
}  // namespace gaitshelf::service
