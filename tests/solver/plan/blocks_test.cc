#include "solver/plan/blocks.h"

#include <set>

#include <gtest/gtest.h>

#include "tests/support/plans.h"

namespace gaitshelf::solver {
namespace {

TEST(BlocksTest, ControlsShareNoRowWithTheControlsOfAnotherKnot) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = MakeStage(model, test::MakeAdvanceOrder(12.0, 0.009), {}, 16, false);
  PlanEvaluation evaluation(&stage.problem, &stage.unknowns);
  PenaltyState state;
  state.Reset(stage.problem);
  ceres::Problem problem;
  AddPlanBlocks(&evaluation, &state, &stage.unknowns, &problem);
  std::set<const double*> controls;
  for (int k = 0; k < stage.problem.knot_count; ++k) {
    controls.insert(stage.unknowns.controls.col(k).data());
  }
  std::vector<ceres::ResidualBlockId> ids;
  problem.GetResidualBlocks(&ids);
  for (const ceres::ResidualBlockId id : ids) {
    std::vector<double*> blocks;
    problem.GetParameterBlocksForResidualBlock(id, &blocks);
    int count = 0;
    for (const double* block : blocks) {
      count += controls.count(block) > 0 ? 1 : 0;
    }
    EXPECT_LE(count, 1);
  }
}

TEST(BlocksTest, AHopKeepsItsFirstTwoAndLastTwoKnots) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = MakeStage(model, test::MakeHopOrder(0.009), {}, 20, false);
  PlanEvaluation evaluation(&stage.problem, &stage.unknowns);
  PenaltyState state;
  state.Reset(stage.problem);
  ceres::Problem problem;
  AddPlanBlocks(&evaluation, &state, &stage.unknowns, &problem);
  for (const int k : {0, 1, 2, 17, 18, 19}) {
    EXPECT_EQ(problem.IsParameterBlockConstant(stage.unknowns.coordinates.col(k).data()),
              k < 2 || k >= 18);
  }
}

}  // namespace
}  // namespace gaitshelf::solver
