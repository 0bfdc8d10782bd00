#include "solver/measure/clock_delay.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/solver/measure/walker.h"

namespace gaitshelf::solver {
namespace {

using testing::HasSubstr;

v1::DelayEstimate Estimate(const std::vector<std::string>& on_board,
                           const std::vector<std::string>& tracking,
                           double delay_s) {
  test::Walker walker;
  walker.cycle_count = 60;
  walker.tracking_delay_s = delay_s;
  const test::Walked walked = test::Walk(walker,
                                         {{"on-board", v1::TRIAL_CLOCK_ON_BOARD, 1000.0, on_board},
                                          {"tracking", v1::TRIAL_CLOCK_TRACKING, 400.0, tracking}});
  return EstimateClockDelay(*walked.table, 0.06);
}

TEST(ClockDelayTest, ComparesWhatIsOnBothClocks) {
  const v1::DelayEstimate estimate =
      Estimate({"leg-1 contact", "leg-1 swing [mm]"}, {"leg-1 swing [mm]", "body x [mm]"}, 0.0123);
  ASSERT_EQ(estimate.outcome(), v1::DELAY_OUTCOME_FOUND) << estimate.reason();
  EXPECT_NEAR(estimate.delay_s(), 0.0123, 2e-5);
  EXPECT_THAT(estimate.reason(), HasSubstr("\"leg-1 swing [mm]\" on both clocks"));
}

TEST(ClockDelayTest, SaysWhenNothingIsOnBothClocks) {
  const v1::DelayEstimate estimate = Estimate({"leg-1 contact"}, {"body x [mm]"}, 0.0);
  EXPECT_EQ(estimate.outcome(), v1::DELAY_OUTCOME_NOT_FOUND);
  EXPECT_THAT(estimate.reason(), HasSubstr("on both clocks"));
}

TEST(ClockDelayTest, OneClockHasNoDelay) {
  const test::Walked walked = test::Walk(
      test::Walker(), {{"log", v1::TRIAL_CLOCK_TRACKING, 500.0, {"body x [mm]", "leg-1 contact"}}});
  EXPECT_EQ(EstimateClockDelay(*walked.table, 0.0).outcome(), v1::DELAY_OUTCOME_UNSPECIFIED);
}

}  // namespace
}  // namespace gaitshelf::solver
