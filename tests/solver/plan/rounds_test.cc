#include "solver/plan/rounds.h"

#include <gtest/gtest.h>

#include "tests/support/plans.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using test::HasStatus;
using test::IsOk;

struct Solve {
  Stage stage;
  PenaltyState penalty;
  RoundState state;

  Solve(const RobotModel& model, const v1::GaitOrder& order, int knots)
      : stage(MakeStage(model, order, {}, knots, false)) {
    penalty.Reset(stage.problem);
    penalty.smoothing = stage.schedule.first_smoothing;
    penalty.penalty = stage.schedule.first_penalty;
  }
  absl::Status Run(const RoundControl& control) {
    return SolveRounds(stage.problem, stage.schedule, control, &stage.unknowns, &penalty, &state);
  }
};

TEST(SolveRoundsTest, MeetsEveryLawToTolerance) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Solve solve(model, test::MakeAdvanceOrder(12.0, 0.009), 40);
  ASSERT_THAT(solve.Run({}), IsOk());
  EXPECT_TRUE(solve.state.is_converged);
  PlanEvaluation evaluation(&solve.stage.problem, &solve.stage.unknowns);
  evaluation.Update(solve.penalty.smoothing, false);
  EXPECT_LT(evaluation.Violation().Worst(), solve.stage.schedule.tolerance);
  EXPECT_NEAR(solve.stage.unknowns.stride, solve.stage.problem.stride_target, 2e-3);
}

TEST(SolveRoundsTest, IsNotConvergedBeforeTheLawsAreSharp) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Solve solve(model, test::MakeAdvanceOrder(12.0, 0.009), 40);
  solve.stage.schedule.tolerance = 0.5;  // which every round meets
  ASSERT_THAT(solve.Run({}), IsOk());
  EXPECT_TRUE(solve.state.is_converged);
  EXPECT_LE(solve.penalty.smoothing, solve.stage.schedule.last_smoothing);
}

TEST(SolveRoundsTest, EndsWithinOneIterationOfTheStopFlag) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Solve solve(model, test::MakeAdvanceOrder(12.0, 0.009), 40);
  std::atomic<bool> stop{false};
  int iterations_after_stop = 0;
  RoundControl control;
  control.stop = &stop;
  control.on_iteration = [&](const RoundState& state) {
    iterations_after_stop += stop.load() ? 1 : 0;
    stop.store(state.iteration_count >= 25);
  };
  EXPECT_THAT(solve.Run(control), HasStatus(absl::StatusCode::kCancelled, testing::_));
  EXPECT_EQ(iterations_after_stop, 0);
  EXPECT_EQ(solve.state.iteration_count, 26);
}

TEST(SolveRoundsTest, ReportsEveryIterationWithFallingSmoothing) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Solve solve(model, test::MakeAdvanceOrder(12.0, 0.009), 40);
  int calls = 0;
  double last_smoothing = 1.0;
  RoundControl control;
  control.on_iteration = [&](const RoundState&) { ++calls; };
  control.on_round = [&](const RoundState&, const PenaltyState& penalty) {
    EXPECT_LE(penalty.smoothing, last_smoothing);
    last_smoothing = penalty.smoothing;
  };
  ASSERT_THAT(solve.Run(control), IsOk());
  EXPECT_GE(calls, solve.state.iteration_count);
  EXPECT_LE(last_smoothing, 1e-3);
}

}  // namespace
}  // namespace gaitshelf::solver
