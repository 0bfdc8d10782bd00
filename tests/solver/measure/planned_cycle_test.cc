#include "solver/measure/planned_cycle.h"

#include <cmath>
#include <numbers>

#include "tests/support/gaits.h"
#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

PlannedCycleRequest MakeRequest() {
  PlannedCycleRequest request;
  request.robot = test::MakeQuadruped();
  request.surface = test::MakeSurface(0.5);
  request.gait = test::MakeSineGait(request.robot, {});
  return request;
}

TEST(PlannedCycleTest, SaysWhatThePlanSays) {
  const auto plan = PlannedCycle::Create(MakeRequest());
  ASSERT_THAT(plan, test::IsOk());
  EXPECT_TRUE(plan->is_periodic());
  EXPECT_NEAR(plan->period_s(), 0.1, 1e-12);
  EXPECT_DOUBLE_EQ(plan->advance_m(), 0.008);
  // On a knot exactly, in between to the error of a cubic through 40 knots.
  EXPECT_NEAR(plan->LegPosition(0, 0.25), 0.001, 1e-9);
  EXPECT_NEAR(
      plan->LegPosition(1, 1.0 + 0.3125), 0.001 * std::sin(2.0 * std::numbers::pi * 0.4125), 1e-6);
  EXPECT_NEAR(plan->Position(1.5)[0], 0.012, 1e-9);
  EXPECT_NEAR(plan->Position(0.25)[6], 0.001, 1e-9);
}

TEST(PlannedCycleTest, FeetStandInTheFirstHalf) {
  const auto plan = PlannedCycle::Create(MakeRequest());
  ASSERT_THAT(plan, test::IsOk());
  EXPECT_TRUE(plan->IsLoaded(0.1, 0));
  EXPECT_FALSE(plan->IsLoaded(0.6, 0));
  EXPECT_DOUBLE_EQ(plan->DutyRatio(2), 0.5);
  EXPECT_DOUBLE_EQ(plan->TouchdownPhase(2), 0.0);
}

TEST(PlannedCycleTest, AFootThatNeverLandsHasNoTouchdown) {
  PlannedCycleRequest request = MakeRequest();
  for (double& force : *request.gait.mutable_foot_force_n()) {
    force = 0.0;
  }
  const auto plan = PlannedCycle::Create(request);
  ASSERT_THAT(plan, test::IsOk());
  EXPECT_TRUE(std::isnan(plan->TouchdownPhase(0)));
  EXPECT_EQ(plan->DutyRatio(0), 0.0);
}

TEST(PlannedCycleTest, RefusesAGaitOfAnotherRobot) {
  PlannedCycleRequest request = MakeRequest();
  request.gait.mutable_voltage_v()->RemoveLast();
  EXPECT_THAT(PlannedCycle::Create(request),
              test::HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("voltage_v")));
}

}  // namespace
}  // namespace gaitshelf::solver
