#include "solver/plan/stage.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

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
  for (const v1::GaitOrder& order :
       {test::MakeAdvanceOrder(12.0, 0.009), test::MakeHopOrder(0.009)}) {
    const Stage stage = MakeStage(model, order, {}, 40, false);
    const PlanUnknowns same = Resample(stage.problem, stage.unknowns, stage);
    EXPECT_LT((same.coordinates - stage.unknowns.coordinates).cwiseAbs().maxCoeff(), 1e-12);
  }
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

}  // namespace
}  // namespace gaitshelf::solver
