#include "solver/plan/penalty.h"

#include <gtest/gtest.h>

#include "tests/support/plans.h"

namespace gaitshelf::solver {
namespace {

TEST(LimitRowTest, IsTheExcessBeyondEitherEnd) {
  EXPECT_DOUBLE_EQ(LimitRow(0.5, -1.0, 1.0, 0.0), 0.0);
  EXPECT_DOUBLE_EQ(LimitRow(1.25, -1.0, 1.0, 0.0), 0.25);
  EXPECT_DOUBLE_EQ(LimitRow(-1.5, -1.0, 1.0, 0.0), -0.5);
}

TEST(LimitRowTest, MultiplierPushesBackBeforeTheLimitItBelongsTo) {
  EXPECT_DOUBLE_EQ(LimitRow(0.9, -1.0, 1.0, 0.25), 0.15);
  EXPECT_DOUBLE_EQ(LimitRow(-1.5, -1.0, 1.0, 0.25), 0.0);
  EXPECT_DOUBLE_EQ(LimitRow(-0.9, -1.0, 1.0, -0.25), -0.15);
}

TEST(PenaltyStateTest, MultipliersMoveByThePenaltyTimesTheirRows) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = MakeStage(model, test::MakeAdvanceOrder(12.0, 0.009), {}, 16, false);
  stage.unknowns.controls(0, 3) = 1.5;
  PlanEvaluation evaluation(&stage.problem, &stage.unknowns);
  evaluation.Update(0.1, false);
  PenaltyState state;
  state.Reset(stage.problem);
  state.penalty = 7.0;
  state.UpdateMultipliers(evaluation);
  EXPECT_TRUE(state.dynamics_multiplier.isApprox(7.0 * evaluation.dynamics()));
  EXPECT_TRUE(state.contact_multiplier.isApprox(7.0 * stage.problem.contact_penalty_ratio *
                                                evaluation.contact()));
  EXPECT_NEAR(state.drive_multiplier(0, 3), 7.0 * (0.5 + stage.problem.drive_margin), 1e-12);
  EXPECT_EQ(state.drive_multiplier(1, 3), 0.0);
}

}  // namespace
}  // namespace gaitshelf::solver
