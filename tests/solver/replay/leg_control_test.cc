#include "solver/replay/leg_control.h"

#include <gtest/gtest.h>

#include "tests/support/robots.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

class LegControlTest : public ::testing::Test {
 protected:
  LegControlTest()
      : robot_(test::MakeQuadruped()),
        model_(*RobotModel::Create(robot_, test::MakeSurface(0.4), Scale())),
        q_(model_.ReferencePosture()),
        v_(VectorXd::Zero(14)),
        target_(VectorXd::Zero(8)),
        rate_(VectorXd::Zero(8)),
        feed_forward_v_(VectorXd::Constant(8, 100.0)) {}

  LegControl Control(double gain_ratio = 1.0) const {
    LegControl control(robot_.leg_controller(), gain_ratio, &model_);
    control.Start(feed_forward_v_);
    return control;
  }

  VectorXd Update(LegControl* control, double period_s = 1.0) {
    return control->Update(q_, v_, target_, rate_, feed_forward_v_, period_s);
  }

  v1::Robot robot_;
  RobotModel model_;
  VectorXd q_, v_, target_, rate_, feed_forward_v_;
};

TEST_F(LegControlTest, PlaysTheFeedForwardVoltageWhenTheLegsAreOnPlan) {
  feed_forward_v_ = VectorXd::LinSpaced(8, 60.0, 140.0);
  LegControl control = Control();
  EXPECT_LT((Update(&control) - (feed_forward_v_.array() - 100.0).matrix() / 100.0).norm(), 1e-15);
}

TEST_F(LegControlTest, PullsTowardsThePlan) {
  for (Index i = 0; i < 8; ++i) {
    for (const double side : {-1.0, 1.0}) {
      target_.setZero();
      target_[i] = side * 1e-4;
      LegControl control = Control();
      VectorXd force;
      model_.DriveForce(q_, Update(&control), &force);
      EXPECT_GT(force[6 + i] * side, 0.0) << i;
    }
  }
}

TEST_F(LegControlTest, BrakesRatesThatAreOffThePlan) {
  v_[6] = 0.1;
  LegControl control = Control();
  VectorXd force;
  model_.DriveForce(q_, Update(&control), &force);
  EXPECT_LT(force[6], 0.0);
}

TEST_F(LegControlTest, AddsTheStatedVoltage) {
  target_[0] = 1e-4;
  rate_[1] = 0.02;
  LegControl control = Control(0.5);
  Update(&control);
  // 5e4 V/m and 50 V s/m, halved; the tips move against the feet, so the voltage falls.
  EXPECT_NEAR(control.voltage_v()[0], 100.0 - 0.5 * 5.0, 1e-12);
  EXPECT_NEAR(control.voltage_v()[1], 100.0 - 0.5 * 1.0, 1e-12);
}

TEST_F(LegControlTest, StaysInsideTheRange) {
  target_[0] = 1.0;
  target_[2] = -1.0;
  LegControl control = Control();
  Update(&control);
  EXPECT_EQ(control.voltage_v()[0], 0.0);
  EXPECT_EQ(control.voltage_v()[2], 200.0);
}

TEST_F(LegControlTest, StaysInsideTheSlew) {
  target_[0] = 1.0;
  LegControl control = Control();
  Update(&control, 1e-4);
  EXPECT_NEAR(control.voltage_v()[0], 80.0, 1e-9);  // 2e5 V/s for 0.1 ms
  Update(&control, 1e-4);
  EXPECT_NEAR(control.voltage_v()[0], 60.0, 1e-9);
}

TEST_F(LegControlTest, KeepsTheSlewInAnyUnits) {
  const Scale scale{.length_m = 0.011, .mass_kg = 1.9e-3, .time_s = 0.03};
  model_ = *RobotModel::Create(robot_, test::MakeSurface(0.4), scale);
  target_[0] = 1.0;
  LegControl control = Control();
  Update(&control, 1e-4 / scale.time_s);
  EXPECT_NEAR(control.voltage_v()[0], 80.0, 1e-9);
}

TEST_F(LegControlTest, LeavesPassiveCoordinatesAlone) {
  robot_.mutable_legs(1)->mutable_lumped()->mutable_lift()->clear_bimorph();
  model_ = *RobotModel::Create(robot_, test::MakeSurface(0.4), Scale());
  target_[2] = 1.0;
  LegControl control = Control();
  EXPECT_EQ(Update(&control)[2], 0.0);
}

}  // namespace
}  // namespace gaitshelf::solver
