#include "solver/plan/soft_blocks.h"

#include <gtest/gtest.h>

#include "tests/support/plans.h"

namespace gaitshelf::solver {
namespace {

constexpr double kTolerance = 1e-6;

Stage ShakenStage(const RobotModel& model, double size) {
  Stage stage = MakeStage(model, test::MakeAdvanceOrder(12.0, 0.009), {}, 16, false);
  test::Shake(size, 4, &stage.unknowns);
  return stage;
}

TEST(SoftBlocksTest, ControlJacobianMatchesCentralDifferencesInsideAndBeyondTheLimits) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  // A shake of 1.5 puts about a third of the drives beyond their limits.
  Stage stage = ShakenStage(model, 1.5);
  test::ExpectJacobiansMatch(
      &stage, kTolerance, [&](auto* evaluation, auto* state, auto* unknowns, auto* problem) {
        for (int k = 0; k < stage.problem.knot_count; ++k) {
          AddControlBlock(evaluation, state, k, unknowns, problem);
        }
      });
}

TEST(SoftBlocksTest, PostureJacobianMatchesCentralDifferencesInsideAndBeyondTheTravel) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = ShakenStage(model, 0.3);
  test::ExpectJacobiansMatch(
      &stage, kTolerance, [&](auto* evaluation, auto* state, auto* unknowns, auto* problem) {
        for (int k = 0; k < stage.problem.knot_count; ++k) {
          AddPostureBlock(evaluation, state, k, unknowns, problem);
        }
      });
}

TEST(SoftBlocksTest, AccelerationJacobianMatchesCentralDifferences) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = ShakenStage(model, 0.1);
  test::ExpectJacobiansMatch(
      &stage, kTolerance, [&](auto* evaluation, auto* state, auto* unknowns, auto* problem) {
        for (int k = 0; k < stage.problem.knot_count; ++k) {
          AddAccelerationBlock(evaluation, state, k, unknowns, problem);
        }
      });
}

TEST(SoftBlocksTest, EntryRowIsWeightTimesDistanceFromTarget) {
  double block[3] = {1.0, 2.0, 5.0};
  ceres::Problem problem;
  AddEntryBlock(block, 3, 2, 0.5, 1.0, &problem);
  std::vector<double> residuals;
  ASSERT_TRUE(problem.Evaluate({}, nullptr, &residuals, nullptr, nullptr));
  ASSERT_EQ(residuals.size(), 1U);
  EXPECT_DOUBLE_EQ(residuals[0], 2.0);
}

}  // namespace
}  // namespace gaitshelf::solver
