#include "solver/plan/checkpoint.h"

#include <cmath>

#include <gtest/gtest.h>

#include "tests/support/plans.h"

namespace gaitshelf::solver {
namespace {

TEST(CheckpointTest, RestoresExactlyWhatWasWritten) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = MakeStage(model, test::MakeAdvanceOrder(12.0, 0.009), {}, 16, false);
  test::Shake(0.1, 9, &stage.unknowns);
  PenaltyState penalty;
  penalty.Reset(stage.problem);
  penalty.smoothing = 0.027;
  penalty.penalty = 1e3;
  penalty.dynamics_multiplier.setRandom();
  penalty.travel_multiplier.setRandom();
  RoundState state;
  state.round = 4;
  state.radius = 12.5;
  const v1::PlanCheckpoint checkpoint =
      MakeCheckpoint(stage.problem, stage.unknowns, penalty, state);
  Stage fresh = MakeStage(model, test::MakeAdvanceOrder(12.0, 0.009), {}, 16, false);
  PenaltyState restored;
  RoundState restored_state;
  ASSERT_TRUE(
      RestoreCheckpoint(checkpoint, fresh.problem, &fresh.unknowns, &restored, &restored_state));
  EXPECT_EQ(fresh.unknowns.coordinates, stage.unknowns.coordinates);
  EXPECT_EQ(fresh.unknowns.controls, stage.unknowns.controls);
  EXPECT_EQ(fresh.unknowns.stride, stage.unknowns.stride);
  EXPECT_EQ(restored.dynamics_multiplier, penalty.dynamics_multiplier);
  EXPECT_EQ(restored.travel_multiplier, penalty.travel_multiplier);
  EXPECT_EQ(restored.smoothing, penalty.smoothing);
  EXPECT_EQ(restored_state.round, 4);
  EXPECT_EQ(restored_state.radius, 12.5);
}

TEST(CheckpointTest, RefusesWhatDoesNotFitAndLeavesTheSeed) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  const Stage stage = MakeStage(model, test::MakeAdvanceOrder(12.0, 0.009), {}, 16, false);
  PenaltyState penalty;
  penalty.Reset(stage.problem);
  const v1::PlanCheckpoint good = MakeCheckpoint(stage.problem, stage.unknowns, penalty, {});
  v1::PlanCheckpoint wrong_layout = good;
  wrong_layout.set_layout(99);
  v1::PlanCheckpoint torn = good;
  torn.mutable_unknown_ratio()->RemoveLast();
  v1::PlanCheckpoint not_finite = good;
  not_finite.set_unknown_ratio(3, std::nan(""));
  for (const v1::PlanCheckpoint& bad : {wrong_layout, torn, not_finite}) {
    PlanUnknowns unknowns = stage.unknowns;
    RoundState state;
    EXPECT_FALSE(RestoreCheckpoint(bad, stage.problem, &unknowns, &penalty, &state));
    EXPECT_EQ(unknowns.coordinates, stage.unknowns.coordinates);
    EXPECT_EQ(state.round, 0);
  }
}

}  // namespace
}  // namespace gaitshelf::solver
