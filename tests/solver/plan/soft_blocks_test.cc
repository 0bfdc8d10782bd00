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

TEST(SoftBlocksTest, ControlJacobianOfASteadyWalkMatchesCentralDifferences) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage =
      MakeStage(model, test::MakeAdvanceOrder(3.0, 0.009), {.steady_duty = 0.65}, 16, false);
  ASSERT_EQ(stage.problem.load_target.rows(), 4);
  // Some normal forces are then above what is asked, some below.
  test::Shake(0.5, 4, &stage.unknowns);
  test::ExpectJacobiansMatch(
      &stage, kTolerance, [&](auto* evaluation, auto* state, auto* unknowns, auto* problem) {
        for (int k = 0; k < stage.problem.knot_count; ++k) {
          AddControlBlock(evaluation, state, k, unknowns, problem);
        }
      });
}

TEST(SoftBlocksTest, ControlJacobianOfAPlanThatMustNotSlideMatchesCentralDifferences) {
  const RobotModel model = test::MakeScaledQuadruped(0.18);
  Stage stage =
      MakeStage(model, test::MakeAdvanceOrder(12.0, 0.009), {.greatest_friction = 0.85}, 16, false);
  ASSERT_TRUE(stage.problem.forbids_sliding());
  test::Shake(0.5, 5, &stage.unknowns);
  test::ExpectJacobiansMatch(
      &stage, kTolerance, [&](auto* evaluation, auto* state, auto* unknowns, auto* problem) {
        for (int k = 0; k < stage.problem.knot_count; ++k) {
          AddControlBlock(evaluation, state, k, unknowns, problem);
        }
      });
}

// Where sliding is forbidden its price grows with the penalty, so that it is a law in the end.
TEST(SoftBlocksTest, SlidingCostsTheMoreTheGreaterThePenaltyOnlyWhereItIsForbidden) {
  const RobotModel model = test::MakeScaledQuadruped(0.18);
  const auto slip_row = [&](double greatest_friction, double penalty) {
    Stage stage = MakeStage(model,
                            test::MakeAdvanceOrder(12.0, 0.009),
                            {.greatest_friction = greatest_friction},
                            16,
                            false);
    const Eigen::Index at = stage.problem.foot_control(0);
    stage.unknowns.controls(at, 0) = 0.5;
    stage.unknowns.controls(at + 3, 0) = 0.25;
    PlanEvaluation evaluation(&stage.problem, &stage.unknowns);
    PenaltyState state;
    state.Reset(stage.problem);
    state.penalty = penalty;
    evaluation.Update(0.1, true);
    ceres::Problem problem;
    AddControlBlock(&evaluation, &state, 0, &stage.unknowns, &problem);
    std::vector<double> residuals;
    EXPECT_TRUE(problem.Evaluate({}, nullptr, &residuals, nullptr, nullptr));
    return residuals.at(static_cast<size_t>(2 * model.drive_count() + 4));
  };
  EXPECT_EQ(slip_row(0.0, 1e4), slip_row(0.0, 1.0));
  EXPECT_NEAR(slip_row(0.85, 1e6) / slip_row(0.85, 1e4), 10.0, 0.01);
}

TEST(SoftBlocksTest, LackOfLoadCostsTheMoreTheLessAStandingFootCarries) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage =
      MakeStage(model, test::MakeAdvanceOrder(3.0, 0.009), {.steady_duty = 0.65}, 16, false);
  const Eigen::Index foot = stage.problem.load_target.col(0).maxCoeff() > 0.0 ? 0 : -1;
  ASSERT_EQ(foot, 0);
  PlanEvaluation evaluation(&stage.problem, &stage.unknowns);
  PenaltyState state;
  state.Reset(stage.problem);
  evaluation.Update(0.1, true);
  ceres::Problem problem;
  AddControlBlock(&evaluation, &state, 0, &stage.unknowns, &problem);
  const auto rows_at = [&](double share) {
    for (Eigen::Index i = 0; i < 4; ++i) {
      stage.unknowns.controls(stage.problem.foot_control(i), 0) =
          share * stage.problem.load_target(i, 0);
    }
    std::vector<double> residuals;
    EXPECT_TRUE(problem.Evaluate({}, nullptr, &residuals, nullptr, nullptr));
    return Eigen::Map<Eigen::VectorXd>(residuals.data(),
                                       static_cast<Eigen::Index>(residuals.size()))
        .tail(4)
        .eval();
  };
  EXPECT_EQ(rows_at(1.0).norm(), 0.0);
  EXPECT_EQ(rows_at(1.5).norm(), 0.0);
  const Eigen::VectorXd wanted =
      stage.problem.weights.load / 4.0 * 0.75 * stage.problem.load_target.col(0);
  EXPECT_LT((rows_at(0.25) - wanted).norm(), 1e-12);
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

TEST(SoftBlocksTest, OnlyAFootThatIsTooLowCostsClearance) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = MakeStage(model, test::MakeAdvanceOrder(12.0, 0.009), {}, 16, false);
  PlanEvaluation evaluation(&stage.problem, &stage.unknowns);
  PenaltyState state;
  state.Reset(stage.problem);
  evaluation.Update(0.1, true);
  constexpr int kSwinging = 12;  // knot at which the first foot is aloft
  const double height = evaluation.foot(kSwinging, 0).position.z();
  ceres::Problem problem;
  AddPostureBlock(&evaluation, &state, kSwinging, &stage.unknowns, &problem);
  const auto row_at = [&](double target) {
    stage.problem.clearance_target(0, kSwinging) = target;
    std::vector<double> residuals;
    EXPECT_TRUE(problem.Evaluate({}, nullptr, &residuals, nullptr, nullptr));
    return residuals.at(residuals.size() - 4);  // the rows of the feet are the last
  };
  EXPECT_NEAR(row_at(height + 0.02), stage.problem.weights.clearance / 4.0 * 0.02, 1e-12);
  EXPECT_EQ(row_at(height - 0.02), 0.0);
  EXPECT_EQ(row_at(0.0), 0.0);
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

TEST(SoftBlocksTest, AccelerationJacobianOfATurnMatchesCentralDifferences) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = MakeStage(model, test::MakeTurnOrder(), {}, 16, false);
  test::Shake(0.1, 6, &stage.unknowns);
  test::ExpectJacobiansMatch(
      &stage, kTolerance, [&](auto* evaluation, auto* state, auto* unknowns, auto* problem) {
        for (int k = 0; k < stage.problem.knot_count; ++k) {
          AddAccelerationBlock(evaluation, state, k, unknowns, problem);
        }
      });
}

// A body that turns and sidesteps evenly has no acceleration, also where the cycle closes.
TEST(SoftBlocksTest, EvenMotionHasNoAccelerationWhereTheCycleCloses) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  for (const double turn_rad : {0.0, 0.3}) {
    v1::GaitOrder order = test::MakeTurnOrder();
    order.mutable_task()->mutable_advance()->set_turn_rad(turn_rad);
    Stage stage = MakeStage(model, order, {}, 16, false);
    const Eigen::VectorXd start = stage.unknowns.coordinates.col(0);
    for (int k = 0; k < 16; ++k) {
      Eigen::VectorXd q = start;
      q.head<6>() = stage.unknowns.coordinates.col(k).head<6>();
      stage.unknowns.coordinates.col(k) = q;
    }
    PlanEvaluation evaluation(&stage.problem, &stage.unknowns);
    PenaltyState state;
    ceres::Problem problem;
    for (int k = 0; k < 16; ++k) {
      AddAccelerationBlock(&evaluation, &state, k, &stage.unknowns, &problem);
    }
    double cost = 0.0;
    ASSERT_TRUE(problem.Evaluate({}, &cost, nullptr, nullptr, nullptr));
    EXPECT_LT(cost, 1e-20) << turn_rad;
  }
}

TEST(SoftBlocksTest, AlternationJacobianMatchesCentralDifferences) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = ShakenStage(model, 0.5);
  stage.problem.weights.alternation = 0.3;
  stage.unknowns.DeriveDriveFigures(stage.problem);
  test::ExpectJacobiansMatch(
      &stage, kTolerance, [&](auto* evaluation, auto* state, auto* unknowns, auto* problem) {
        for (int k = 0; k < stage.problem.knot_count; ++k) {
          AddAlternationBlock(evaluation, state, k, unknowns, problem);
        }
      });
}

TEST(SoftBlocksTest, PeakJacobianMatchesCentralDifferencesOnBothSidesOfTheBound) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = ShakenStage(model, 0.5);
  stage.problem.weights.peak_drive = 0.3;
  stage.unknowns.peak_drive = 0.25;
  test::ExpectJacobiansMatch(
      &stage, kTolerance, [&](auto* evaluation, auto* state, auto* unknowns, auto* problem) {
        for (int k = 0; k < stage.problem.knot_count; ++k) {
          AddPeakBlock(evaluation, state, k, unknowns, problem);
        }
      });
}

// A steady voltage costs nothing.
TEST(SoftBlocksTest, ASteadyDriveDoesNotAlternate) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = ShakenStage(model, 0.1);
  stage.problem.weights.alternation = 0.3;
  stage.unknowns.controls.topRows(8).setConstant(0.7);
  stage.unknowns.DeriveDriveFigures(stage.problem);
  PlanEvaluation evaluation(&stage.problem, &stage.unknowns);
  PenaltyState state;
  ceres::Problem problem;
  AddAlternationBlock(&evaluation, &state, 3, &stage.unknowns, &problem);
  double cost = 1.0;
  ASSERT_TRUE(problem.Evaluate({}, &cost, nullptr, nullptr, nullptr));
  EXPECT_LT(cost, 1e-25);
}

// As nothing, its drive would be free.
TEST(SoftBlocksTest, ADriveOfUnknownCapacitanceAlternatesAtTheGreatestPrice) {
  v1::Robot robot = test::MakeQuadruped();
  for (v1::Leg& leg : *robot.mutable_legs()) {
    leg.mutable_lumped()->mutable_lift()->mutable_bimorph()->set_capacitance_f(4e-9);
    leg.mutable_lumped()->mutable_swing()->mutable_bimorph()->set_capacitance_f(1e-9);
  }
  robot.mutable_legs(0)
      ->mutable_lumped()
      ->mutable_swing()
      ->mutable_bimorph()
      ->clear_capacitance_f();
  const RobotModel model = test::MakeScaledModel(robot, 0.45);
  Stage stage = ShakenStage(model, 0.1);
  stage.problem.weights.alternation = 0.3;
  const auto cost_of = [&](Eigen::Index drive) {
    stage.unknowns.controls.setZero();
    stage.unknowns.mean_drive.setZero(8);
    stage.unknowns.controls(drive, 3) = 1.0;
    PlanEvaluation evaluation(&stage.problem, &stage.unknowns);
    PenaltyState state;
    ceres::Problem problem;
    AddAlternationBlock(&evaluation, &state, 3, &stage.unknowns, &problem);
    double cost = 0.0;
    EXPECT_TRUE(problem.Evaluate({}, &cost, nullptr, nullptr, nullptr));
    return cost;
  };
  EXPECT_DOUBLE_EQ(cost_of(1), cost_of(0));
  EXPECT_DOUBLE_EQ(cost_of(3), 0.25 * cost_of(0));
}

}  // namespace
}  // namespace gaitshelf::solver
