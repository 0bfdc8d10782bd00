#include "solver/plan/plan_gait.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/demo.h"
#include "tests/support/plans.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using test::HasStatus;
using test::IsOk;
using testing::AllOf;
using testing::Each;
using testing::HasSubstr;

PlanRequest MakeRequest(double friction, const v1::GaitOrder& order) {
  PlanRequest request;
  request.robot = test::MakeQuadruped();
  request.surface = test::MakeSurface(friction);
  request.order = order;
  return request;
}

TEST(PlanGaitTest, WalksWithOneTouchdownPerFootAndNoDragging) {
  const auto gait = PlanGait(MakeRequest(0.45, test::MakeAdvanceOrder(12.0, 0.009)), {});
  ASSERT_THAT(gait, IsOk());
  EXPECT_EQ(gait->report().outcome(), v1::PLAN_OUTCOME_CONVERGED);
  EXPECT_THAT(gait->report().touchdown_count(), Each(1));
  // A foot that drags slides the whole advance; this one creeps at touchdown and lift-off.
  EXPECT_THAT(gait->report().slip_m(), Each(testing::Lt(0.02 * 0.009)));
  EXPECT_NEAR(gait->advance_m(), 0.009, 2e-5);
  EXPECT_EQ(gait->knot_count(), 80);
}

TEST(PlanGaitTest, RefusesSurfacesThatTheOrderDoesNotNameOrThatAreSlipperier) {
  PlanRequest request = MakeRequest(0.45, test::MakeAdvanceOrder(12.0, 0.009));
  v1::Surface ice = test::MakeSurface(0.05);
  ice.set_name("ice");
  request.also_on = {ice};
  EXPECT_THAT(
      PlanGait(request, {}).status(),
      HasStatus(absl::StatusCode::kInvalidArgument,
                AllOf(HasSubstr("also_on is 1 surfaces; must be those of the order, which names 0"),
                      HasSubstr("must have the least friction of all: ice has less"))));
}

TEST(PlanGaitTest, RefusesATransitionWithoutItsGaits) {
  v1::GaitOrder order = test::MakeStandOrder(0.0);
  v1::Transition& transition = *order.mutable_task()->mutable_transition();
  transition.set_from_gait("g-1");
  transition.set_to_gait("g-2");
  transition.set_cycle_count(2);
  EXPECT_THAT(PlanGait(MakeRequest(0.45, order), {}).status(),
              HasStatus(absl::StatusCode::kInvalidArgument,
                        HasSubstr("task.transition.from_gait is \"\"; was solved for another")));
}

TEST(PlanGaitTest, HopsToTheAskedRiseAndLandsOnce) {
  const auto gait = PlanGait(MakeRequest(0.45, test::MakeHopOrder(0.009)), {});
  ASSERT_THAT(gait, IsOk());
  EXPECT_EQ(gait->report().outcome(), v1::PLAN_OUTCOME_CONVERGED);
  EXPECT_THAT(gait->report().touchdown_count(), Each(1));
  double apex_m = 0.0;
  for (int k = 0; k < gait->knot_count(); ++k) {
    apex_m = std::max(apex_m, gait->body_position_m(3 * k + 2));
  }
  EXPECT_NEAR(apex_m - gait->body_position_m(2), 0.009, 5e-5);
}

// Feet of a linkage rise on an arc: they slide inwards and outwards under the body, all four alike.
TEST(PlanGaitTest, HopsOnLinkageLegsWithOneLanding) {
  PlanRequest request = MakeRequest(0.45, test::MakeHopOrder(0.009));
  request.robot = test::ReadDemoRobot("weevil");
  const auto gait = PlanGait(request, {});
  ASSERT_THAT(gait, IsOk());
  EXPECT_EQ(gait->report().outcome(), v1::PLAN_OUTCOME_CONVERGED);
  EXPECT_EQ(gait->report().retry_rung(), 0);
  EXPECT_THAT(gait->report().touchdown_count(), Each(1));
  for (int i = 1; i < gait->report().slip_m_size(); ++i) {
    EXPECT_NEAR(gait->report().slip_m(i), gait->report().slip_m(0), 1e-5);
  }
}

TEST(PlanGaitTest, TheSameRequestGivesTheSameGait) {
  const PlanRequest request = MakeRequest(0.85, test::MakeAdvanceOrder(28.0, 0.009));
  const auto first = PlanGait(request, {});
  const auto second = PlanGait(request, {});
  ASSERT_THAT(first, IsOk());
  ASSERT_THAT(second, IsOk());
  EXPECT_EQ(first->name(), second->name());
  EXPECT_EQ(first->name().size(), 34U);
}

TEST(PlanGaitTest, GoesOnFromACheckpointAsIfNeverStopped) {
  PlanRequest request = MakeRequest(0.45, test::MakeAdvanceOrder(12.0, 0.009));
  request.order.mutable_options()->set_knot_count(40);
  std::vector<v1::PlanCheckpoint> checkpoints;
  PlanControl control;
  control.on_checkpoint = [&](const v1::PlanCheckpoint& at) { checkpoints.push_back(at); };
  const auto whole = PlanGait(request, control);
  ASSERT_THAT(whole, IsOk());
  ASSERT_GE(checkpoints.size(), 5U);
  request.checkpoint = checkpoints[3];
  checkpoints.clear();
  const auto resumed = PlanGait(request, control);
  ASSERT_THAT(resumed, IsOk());
  ASSERT_FALSE(checkpoints.empty());
  EXPECT_EQ(checkpoints.front().round(), 5);
  EXPECT_THAT(resumed->leg_position_m(),
              testing::Pointwise(testing::DoubleNear(1e-12), whole->leg_position_m()));
}

TEST(PlanGaitTest, GoesOnFromACheckpointOfTheFineKnots) {
  PlanRequest request = MakeRequest(0.45, test::MakeAdvanceOrder(12.0, 0.009));
  std::vector<v1::PlanCheckpoint> fine;
  PlanControl control;
  control.on_checkpoint = [&](const v1::PlanCheckpoint& at) {
    EXPECT_EQ(at.stage(), at.knot_count() == 80 ? 1 : 0);
    if (at.stage() == 1) {
      fine.push_back(at);
    }
  };
  const auto whole = PlanGait(request, control);
  ASSERT_THAT(whole, IsOk());
  ASSERT_GE(fine.size(), 2U);
  request.checkpoint = fine[0];
  fine.clear();
  control.on_progress = [](const v1::PlanProgress& at) {
    EXPECT_NE(at.phase(), v1::PLAN_PHASE_PLANNING) << "on the coarse knots";
  };
  const auto resumed = PlanGait(request, control);
  ASSERT_THAT(resumed, IsOk());
  EXPECT_THAT(resumed->leg_position_m(),
              testing::Pointwise(testing::DoubleNear(1e-12), whole->leg_position_m()));
}

// What each attempt comes to by itself shows when the solve goes on from a checkpoint that knows
// no more than the attempt.
TEST(PlanGaitTest, KeepsTheBestOfAttemptsThatAllFail) {
  PlanRequest request = MakeRequest(0.45, test::MakeHopOrder(0.02));
  request.order.mutable_options()->set_knot_count(32);
  const auto both = PlanGait(request, {});
  request.most_attempts = 1;
  const auto first = PlanGait(request, {});
  request.most_attempts = 2;
  request.checkpoint.emplace().set_retry_rung(1);
  const auto second = PlanGait(request, {});
  ASSERT_THAT(both, IsOk());
  ASSERT_THAT(first, IsOk());
  ASSERT_THAT(second, IsOk());
  const double first_ratio = first->report().violation_ratio();
  const double second_ratio = second->report().violation_ratio();
  ASSERT_NE(first_ratio, second_ratio);
  EXPECT_EQ(both->report().violation_ratio(), std::min(first_ratio, second_ratio));
  EXPECT_EQ(both->report().retry_rung(), first_ratio < second_ratio ? 0 : 1);
}

TEST(PlanGaitTest, StopFlagEndsTheSolve) {
  std::atomic<bool> stop{false};
  PlanControl control;
  control.stop = &stop;
  control.on_progress = [&](const v1::PlanProgress& at) { stop.store(at.iteration() >= 10); };
  EXPECT_THAT(PlanGait(MakeRequest(0.45, test::MakeAdvanceOrder(12.0, 0.009)), control),
              HasStatus(absl::StatusCode::kCancelled, testing::_));
}

TEST(PlanGaitTest, ProgressNeverFallsAndNamesThePhase) {
  double last = 0.0;
  bool has_planned = false;
  bool has_refined = false;
  PlanControl control;
  control.on_progress = [&](const v1::PlanProgress& at) {
    EXPECT_GE(at.done_ratio(), last);
    EXPECT_LE(at.done_ratio(), 1.0);
    last = at.done_ratio();
    has_planned = has_planned || at.phase() == v1::PLAN_PHASE_PLANNING;
    has_refined = has_refined || at.phase() == v1::PLAN_PHASE_REFINING;
  };
  ASSERT_THAT(PlanGait(MakeRequest(0.45, test::MakeAdvanceOrder(12.0, 0.009)), control), IsOk());
  EXPECT_TRUE(has_planned);
  EXPECT_TRUE(has_refined);
  EXPECT_GT(last, 0.9);
}

TEST(PlanGaitTest, AHopBeyondTheDrivesIsAnAnswerThatNamesWhatBinds) {
  const auto gait = PlanGait(MakeRequest(0.45, test::MakeHopOrder(0.02)), {});
  ASSERT_THAT(gait, IsOk());
  EXPECT_EQ(gait->report().outcome(), v1::PLAN_OUTCOME_INFEASIBLE);
  EXPECT_THAT(
      gait->report().reason(),
      AllOf(HasSubstr("cannot meet all laws"), HasSubstr("lift is at the end of its travel")));
}

TEST(PlanGaitTest, BadInputNamesEveryFault) {
  PlanRequest request = MakeRequest(-0.5, test::MakeAdvanceOrder(std::nan(""), 0.009));
  request.robot.mutable_body()->set_mass_kg(-1.0);
  EXPECT_THAT(PlanGait(request, {}),
              HasStatus(absl::StatusCode::kInvalidArgument,
                        AllOf(HasSubstr("body.mass_kg"),
                              HasSubstr("friction_coefficient"),
                              HasSubstr("stride_frequency_hz"))));
}

}  // namespace
}  // namespace gaitshelf::solver
