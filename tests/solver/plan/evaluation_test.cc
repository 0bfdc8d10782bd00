#include "solver/plan/evaluation.h"

#include <gtest/gtest.h>

#include "solver/leg/plane.h"
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

// A hop's last knots are fixed: a smoothing of the round would ask for other forces there.
TEST(PlanEvaluationTest, FeetThatAreFixedDoNotGiveWayToTheSmoothing) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = MakeStage(model, test::MakeHopOrder(0.009), {}, 20, false);
  PlanEvaluation evaluation(&stage.problem, &stage.unknowns);
  evaluation.Update(0.1, false);
  const Eigen::RowVectorXd rough = evaluation.contact().row(0);
  evaluation.Update(0.05, false);
  const Eigen::RowVectorXd fine = evaluation.contact().row(0);
  EXPECT_EQ(rough(17), fine(17));
  EXPECT_NE(rough(16), fine(16));
}

TEST(PlanEvaluationTest, SlidingIsAViolationOnlyWhereItIsForbidden) {
  const RobotModel model = test::MakeScaledQuadruped(0.18);
  for (const double greatest_friction : {0.0, 0.5}) {
    Stage stage = MakeStage(model,
                            test::MakeAdvanceOrder(12.0, 0.009),
                            {.greatest_friction = greatest_friction},
                            16,
                            false);
    // A foot in mid-swing that bears the weight.
    stage.unknowns.controls(stage.problem.foot_control(0), 12) = 1.0;
    PlanEvaluation evaluation(&stage.problem, &stage.unknowns);
    evaluation.Update(1e-3, false);
    EXPECT_NEAR(evaluation.Violation().sliding,
                greatest_friction * evaluation.SlidingVelocity(12, 0).norm(),
                0.2 * greatest_friction);
    EXPECT_EQ(evaluation.Violation().sliding > 0.0, greatest_friction > 0.0);
  }
}

// The laws know no first knot: a cycle that turns may begin at any knot, with what comes after its
// end turned.
TEST(PlanEvaluationTest, ACycleThatTurnsMayBeCutAtAnyKnot) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = MakeStage(model, test::MakeTurnOrder(), {}, 16, false);
  test::Shake(0.05, 9, &stage.unknowns);
  const PlanProblem& problem = stage.problem;
  PlanUnknowns later = stage.unknowns;
  later.coordinates.leftCols(15) = stage.unknowns.coordinates.rightCols(15);
  later.controls.leftCols(15) = stage.unknowns.controls.rightCols(15);
  Eigen::VectorXd end = stage.unknowns.coordinates.col(0);
  MoveOn(problem.Motion(later.stride), &end);
  later.coordinates.col(15) = end;
  PlanEvaluation evaluation(&problem, &stage.unknowns);
  for (Eigen::Index foot = 0; foot < 4; ++foot) {
    Eigen::MatrixXd force = evaluation.FootForce(0, foot);
    evaluation.Turn(1.0, force);
    const Eigen::Index at = problem.foot_control(foot);
    later.controls(at, 15) = force(2);
    later.controls(at + 1, 15) = force(0);
    later.controls(at + 2, 15) = force(1);
    later.controls(at + 3, 15) = stage.unknowns.controls(at + 3, 0);
  }
  later.controls.col(15).head(8) = stage.unknowns.controls.col(0).head(8);
  PlanEvaluation shifted(&problem, &later);
  evaluation.Update(0.01, false);
  shifted.Update(0.01, false);
  // Round-off of forces of size 1e2.
  EXPECT_LT((shifted.dynamics().leftCols(15) - evaluation.dynamics().rightCols(15)).norm(), 1e-9);
  EXPECT_LT(
      (shifted.contact().row(0).leftCols(15) - evaluation.contact().row(0).rightCols(15)).norm(),
      1e-9);
  Eigen::MatrixXd turned = evaluation.dynamics().col(0);
  evaluation.Turn(1.0, turned);
  EXPECT_LT((shifted.dynamics().col(15) - turned).norm(), 1e-9);
  for (Eigen::Index foot = 0; foot < 4; ++foot) {
    EXPECT_NEAR(shifted.SlidingVelocity(14, foot).norm(),
                evaluation.SlidingVelocity(15, foot).norm(),
                1e-9);
  }
}

}  // namespace
}  // namespace gaitshelf::solver
