#include "solver/plan/evaluation.h"

#include <gtest/gtest.h>

#include "tests/support/plans.h"

namespace gaitshelf::solver {
namespace {

TEST(PlanEvaluationTest, SeedDrivesBalanceTheLegsOfAStandingRobot) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = MakeStage(model, test::MakeHopOrder(0.009), {}, 20, false);
  PlanEvaluation evaluation(&stage.problem, &stage.unknowns);
  evaluation.Update(1e-3, false);
  // Knot 1 stands still: gravity, foot forces and drives are in balance but for the first move of
  // the crouch.
  EXPECT_LT(evaluation.dynamics().col(1).tail(model.drive_count()).cwiseAbs().maxCoeff(), 1e-12);
}

TEST(PlanEvaluationTest, LastIntervalLeadsToTheFirstKnotMovedOnByTheStride) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = MakeStage(model, test::MakeAdvanceOrder(12.0, 0.009), {}, 16, false);
  PlanEvaluation evaluation(&stage.problem, &stage.unknowns);
  evaluation.Update(1e-3, false);
  // The seed moves at constant speed, so momentum along x is the same in the interval that closes
  // the cycle.
  const double inner = evaluation.interval(3).terms.momentum(0);
  const double closing = evaluation.interval(15).terms.momentum(0);
  EXPECT_GT(inner, 0.0);
  EXPECT_NEAR(closing, inner, 0.05 * inner);
}

TEST(PlanEvaluationTest, ViolationNamesTheKindOfLawThatIsBroken) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = MakeStage(model, test::MakeAdvanceOrder(12.0, 0.009), {}, 16, false);
  stage.unknowns.controls(1, 4) = -1.75;
  const Travel& travel = model.travels()[2];
  stage.unknowns.coordinates(model.base_count() + 2, 5) = travel.upper + 0.125;
  PlanEvaluation evaluation(&stage.problem, &stage.unknowns);
  evaluation.Update(1e-3, false);
  const PlanViolation violation = evaluation.Violation();
  EXPECT_NEAR(violation.drive, 0.75, 1e-12);
  EXPECT_NEAR(violation.travel, 0.125, 1e-12);
  EXPECT_GE(violation.Worst(), violation.dynamics);
  EXPECT_GE(violation.Worst(), violation.contact);
}

}  // namespace
}  // namespace gaitshelf::solver
