#include "solver/plan/result.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/plans.h"

namespace gaitshelf::solver {
namespace {

using testing::HasSubstr;

TEST(FillTrajectoryTest, GivesSiUnitsAndTheSizesThatTheMessagePromises) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  const Stage stage = MakeStage(model, test::MakeAdvanceOrder(12.0, 0.009), {}, 40, false);
  v1::Gait gait;
  FillTrajectory(stage.problem, stage.unknowns, test::MakeQuadruped(), &gait);
  EXPECT_EQ(gait.knot_count(), 40);
  EXPECT_NEAR(gait.knot_period_s(), 1.0 / 12.0 / 40.0, 1e-12);
  EXPECT_NEAR(gait.advance_m(), 0.009, 1e-12);
  EXPECT_EQ(gait.body_position_m_size(), 40 * 3);
  EXPECT_EQ(gait.leg_position_m_size(), 40 * 8);
  EXPECT_EQ(gait.voltage_v_size(), 40 * 8);
  EXPECT_EQ(gait.foot_force_n_size(), 40 * 12);
  EXPECT_EQ(gait.foot_gap_m_size(), 40 * 4);
  EXPECT_EQ(gait.leg_names_size(), 4);
  EXPECT_NEAR(gait.body_position_m(2), 0.011, 1e-9);
  // Two of four feet carry the weight of a trot.
  double vertical_n = 0.0;
  for (int i = 0; i < 4; ++i) {
    vertical_n += gait.foot_force_n(3 * i + 2);
  }
  EXPECT_NEAR(vertical_n, 1.9e-3 * kGravityMPerS2, 1e-6);
  for (const double voltage_v : gait.voltage_v()) {
    EXPECT_GE(voltage_v, 0.0);
    EXPECT_LE(voltage_v, 200.0);
  }
  EXPECT_THAT(gait.report().touchdown_count(), testing::ElementsAre(1, 1, 1, 1));
}

TEST(DescribeLimitsTest, NamesTheLegTheLimitAndItsShareOfTheTime) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = MakeStage(model, test::MakeAdvanceOrder(12.0, 0.009), {}, 40, false);
  stage.unknowns.controls.row(2).setConstant(1.0);
  const std::string text = DescribeLimits(stage.problem, stage.unknowns, test::MakeQuadruped());
  EXPECT_THAT(text, HasSubstr("lift is at its voltage limit for 100 % of the time"));
  EXPECT_THAT(text, HasSubstr(test::MakeQuadruped().legs(1).name()));
}

}  // namespace
}  // namespace gaitshelf::solver
