#include "solver/plan/law_blocks.h"

#include <gtest/gtest.h>

#include "tests/support/demo.h"
#include "tests/support/plans.h"

namespace gaitshelf::solver {
namespace {

// Central differences with step 1e-6 of rows of size up to 1e2 (masses over a squared knot time).
constexpr double kTolerance = 1e-6;

TEST(LawBlocksTest, DynamicsJacobianMatchesCentralDifferencesOverAClosedCycle) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = MakeStage(model, test::MakeAdvanceOrder(12.0, 0.009), {}, 16, false);
  test::Shake(0.05, 1, &stage.unknowns);
  test::ExpectJacobiansMatch(
      &stage, kTolerance, [&](auto* evaluation, auto* state, auto* unknowns, auto* problem) {
        for (int k = 0; k < stage.problem.knot_count; ++k) {
          AddDynamicsBlock(evaluation, state, k, unknowns, problem);
        }
      });
}

// The arms of a linkage's drives change as it moves.
TEST(LawBlocksTest, DynamicsJacobianOfLinkageLegsMatchesCentralDifferences) {
  const RobotModel model = test::MakeScaledModel(test::ReadDemoRobot("weevil"), 0.45);
  Stage stage = MakeStage(model, test::MakeAdvanceOrder(12.0, 0.009), {}, 12, false);
  test::Shake(0.05, 6, &stage.unknowns);
  test::ExpectJacobiansMatch(
      &stage, kTolerance, [&](auto* evaluation, auto* state, auto* unknowns, auto* problem) {
        for (int k = 0; k < stage.problem.knot_count; ++k) {
          AddDynamicsBlock(evaluation, state, k, unknowns, problem);
        }
      });
}

TEST(LawBlocksTest, ContactJacobianMatchesCentralDifferencesOverAClosedCycle) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = MakeStage(model, test::MakeAdvanceOrder(28.0, 0.009), {}, 16, false);
  test::Shake(0.05, 2, &stage.unknowns);
  test::ExpectJacobiansMatch(
      &stage, kTolerance, [&](auto* evaluation, auto* state, auto* unknowns, auto* problem) {
        for (int k = 0; k < stage.problem.knot_count; ++k) {
          AddContactBlock(evaluation, state, k, unknowns, problem);
        }
      });
}

TEST(LawBlocksTest, JacobiansOfAHopMatchCentralDifferences) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = MakeStage(model, test::MakeHopOrder(0.009), {}, 20, false);
  test::Shake(0.05, 3, &stage.unknowns);
  test::ExpectJacobiansMatch(
      &stage, kTolerance, [&](auto* evaluation, auto* state, auto* unknowns, auto* problem) {
        for (int k = 1; k < stage.problem.knot_count - 1; ++k) {
          AddDynamicsBlock(evaluation, state, k, unknowns, problem);
          AddContactBlock(evaluation, state, k, unknowns, problem);
        }
      });
}

TEST(LawBlocksTest, JacobiansOfACycleThatTurnsMatchCentralDifferences) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = MakeStage(model, test::MakeTurnOrder(), {}, 16, false);
  test::Shake(0.05, 5, &stage.unknowns);
  test::ExpectJacobiansMatch(
      &stage, kTolerance, [&](auto* evaluation, auto* state, auto* unknowns, auto* problem) {
        for (int k = 0; k < stage.problem.knot_count; ++k) {
          AddDynamicsBlock(evaluation, state, k, unknowns, problem);
          AddContactBlock(evaluation, state, k, unknowns, problem);
        }
      });
}

}  // namespace
}  // namespace gaitshelf::solver
