#include "solver/plan/stage.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "solver/leg/standing.h"
#include "tests/support/plans.h"

namespace gaitshelf::solver {
namespace {

using testing::ElementsAre;

TEST(StageKnotsTest, FastStridesAreSolvedCoarseThenFine) {
  EXPECT_THAT(StageKnots(test::MakeAdvanceOrder(12.0, 0.009)), ElementsAre(40, 80));
  EXPECT_THAT(StageKnots(test::MakeAdvanceOrder(3.0, 0.009)), ElementsAre(120));
  v1::GaitOrder order = test::MakeAdvanceOrder(12.0, 0.009);
  order.mutable_options()->set_knot_count(100);
  EXPECT_THAT(StageKnots(order), ElementsAre(40, 100));
  order.mutable_options()->set_knot_count(24);
  EXPECT_THAT(StageKnots(order), ElementsAre(24));
}

TEST(StageTest, RandomChangesFollowFromTheNumberThatFixesThem) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  v1::GaitOrder order = test::MakeAdvanceOrder(12.0, 0.009);
  const Stage plain = MakeStage(model, order, {}, 40, false);
  order.mutable_options()->set_rng(5);
  const Stage one = MakeStage(model, order, {}, 40, false);
  const Stage same = MakeStage(model, order, {}, 40, false);
  order.mutable_options()->set_rng(6);
  const Stage other = MakeStage(model, order, {}, 40, false);
  EXPECT_EQ(one.unknowns.coordinates, same.unknowns.coordinates);
  EXPECT_NE(one.unknowns.coordinates, plain.unknowns.coordinates);
  EXPECT_NE(one.unknowns.coordinates, other.unknowns.coordinates);
}

TEST(ResampleTest, OntoTheSameGridChangesNothing) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  const Stage stage = MakeStage(model, test::MakeAdvanceOrder(12.0, 0.009), {}, 40, false);
  const PlanUnknowns same = Resample(stage.problem, stage.unknowns, stage);
  EXPECT_LT((same.coordinates - stage.unknowns.coordinates).cwiseAbs().maxCoeff(), 1e-12);
}

TEST(ResampleTest, FineKnotsLieOnTheCoarsePathAcrossTheWrap) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  const v1::GaitOrder order = test::MakeAdvanceOrder(12.0, 0.009);
  const Stage coarse = MakeStage(model, order, {}, 40, false);
  const Stage fine = MakeStage(model, order, {}, 80, true);
  const PlanUnknowns resampled = Resample(coarse.problem, coarse.unknowns, fine);
  const double stride = coarse.unknowns.stride;
  EXPECT_NEAR(resampled.coordinates(0, 79), stride * 79.0 / 80.0, 1e-12);
  EXPECT_EQ(resampled.coordinates.col(2), coarse.unknowns.coordinates.col(1));
}

TEST(StageTest, AMaximalAdvanceAsksForItsShareOfTheReach) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  v1::GaitOrder order = test::MakeAdvanceOrder(12.0, 0.0);
  order.mutable_task()->mutable_advance()->set_is_maximal(true);
  const Stage whole = MakeStage(model, order, {}, 40, false);
  const Stage part = MakeStage(model, order, {.reach_ratio = 0.8}, 40, false);
  EXPECT_NEAR(whole.problem.stride_target, AdvanceReach(model, 0.5), 1e-12);
  EXPECT_NEAR(part.problem.stride_target, 0.8 * whole.problem.stride_target, 1e-12);
}

TEST(StageTest, ASteadyWalkAsksItsStandingFeetForLoad) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  const v1::GaitOrder order = test::MakeAdvanceOrder(3.0, 0.009);
  const Stage usual = MakeStage(model, order, {}, 40, false);
  const Stage steady = MakeStage(model, order, {.steady_duty = 0.65}, 40, false);
  EXPECT_EQ(usual.problem.load_target.size(), 0);
  ASSERT_EQ(steady.problem.load_target.rows(), 4);
  EXPECT_GT(steady.problem.weights.slip, usual.problem.weights.slip);
  for (Eigen::Index foot = 0; foot < 4; ++foot) {
    // A tenth of a quarter of the weight, for 65 % of the cycle.
    EXPECT_NEAR(steady.problem.load_target.row(foot).maxCoeff(), 0.025, 1e-9);
    EXPECT_EQ((steady.problem.load_target.row(foot).array() > 0.0).count(), 26);
    for (Eigen::Index k = 0; k < 40; ++k) {
      EXPECT_EQ(steady.problem.load_target(foot, k) > 0.0,
                steady.unknowns.controls(steady.problem.foot_control(foot), k) > 0.0);
    }
  }
}

TEST(StageTest, AStandHoldsItsPostureAllTheTime) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  v1::GaitOrder order = test::MakeStandOrder(-0.0005);
  order.mutable_task()->mutable_stand()->set_roll_rad(0.02);
  EXPECT_EQ(StageKnots(order).size(), 1U);
  const Stage stage = MakeStage(model, order, {}, StageKnots(order)[0], false);
  EXPECT_EQ(stage.problem.stride_target, 0.0);
  EXPECT_TRUE(stage.problem.is_periodic);
  for (int k = 0; k < stage.problem.knot_count; ++k) {
    EXPECT_NEAR(stage.problem.posture_target(2, k), 1.0 - 0.5 / 11.0, 1e-9);
    EXPECT_NEAR(stage.problem.posture_target(3, k), 0.02, 1e-12);
    EXPECT_GT(stage.unknowns.controls(stage.problem.foot_control(0), k), 0.0);
  }
}

TEST(StageTest, ObjectivesWeighWhatTheyAreNamedFor) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  v1::GaitOrder order = test::MakeAdvanceOrder(12.0, 0.009);
  const PlanWeights plain = MakeStage(model, order, {}, 40, false).problem.weights;
  EXPECT_EQ(plain.alternation, 0.0);
  EXPECT_EQ(plain.peak_drive, 0.0);
  order.set_objective(v1::OBJECTIVE_LEAST_EFFORT);
  EXPECT_EQ(MakeStage(model, order, {}, 40, false).problem.weights.effort, plain.effort);
  order.set_objective(v1::OBJECTIVE_LEAST_ENERGY);
  EXPECT_GT(MakeStage(model, order, {}, 40, false).problem.weights.alternation, 0.0);
  order.set_objective(v1::OBJECTIVE_SMOOTHEST);
  EXPECT_GT(MakeStage(model, order, {}, 40, false).problem.weights.acceleration,
            plain.acceleration);
  order.set_objective(v1::OBJECTIVE_LEAST_PEAK_VOLTAGE);
  EXPECT_GT(MakeStage(model, order, {}, 40, false).problem.weights.peak_drive, 0.0);
}

TEST(ResampleTest, ATurnGoesOnAcrossTheWrap) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  const Stage coarse = MakeStage(model, test::MakeTurnOrder(), {}, 40, false);
  const Stage fine = MakeStage(model, test::MakeTurnOrder(), {}, 80, true);
  const PlanUnknowns resampled = Resample(coarse.problem, coarse.unknowns, fine);
  EXPECT_NEAR(resampled.coordinates(5, 79), 0.3 * 79.0 / 80.0, 1e-12);
}

}  // namespace
}  // namespace gaitshelf::solver
