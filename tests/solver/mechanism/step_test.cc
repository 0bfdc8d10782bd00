#include "solver/mechanism/step.h"

#include <limits>

#include <gtest/gtest.h>

#include "solver/leg/robot_model.h"
#include "tests/support/robots.h"

namespace gaitshelf::solver {
namespace {

using Eigen::VectorXd;

RobotModel Body() {
  return *RobotModel::Create(test::MakeBody(2.0, 1e-3), test::MakeSurface(0.4), Scale());
}

TEST(StepFreelyTest, FallsExactlyUnderConstantForce) {
  const RobotModel model = Body();
  MidpointInterval interval;
  interval.Resize(6);
  KnotState state = {VectorXd::Zero(6), VectorXd::Zero(6)};
  state.momentum.head<3>() = 2.0 * Eigen::Vector3d(0.3, -0.1, 1.0);
  for (int i = 0; i < 50; ++i) {
    ASSERT_TRUE(StepFreely(model, VectorXd::Zero(6), 0.01, &state, &interval).ok());
  }
  EXPECT_NEAR(state.position[0], 0.15, 1e-13);
  EXPECT_NEAR(state.position[1], -0.05, 1e-13);
  EXPECT_NEAR(state.position[2], 0.5 - 0.5 * 9.81 * 0.25, 1e-13);
  EXPECT_NEAR(state.momentum[2], 2.0 * (1.0 - 9.81 * 0.5), 1e-12);
}

TEST(StepFreelyTest, AddsTheImpulseOfAFurtherForce) {
  const RobotModel model = Body();
  MidpointInterval interval;
  interval.Resize(6);
  KnotState state = {VectorXd::Zero(6), VectorXd::Zero(6)};
  const VectorXd force = 5.0 * VectorXd::Unit(6, 1);
  ASSERT_TRUE(StepFreely(model, force, 0.01, &state, &interval).ok());
  EXPECT_NEAR(state.momentum[1], 0.05, 1e-15);
  EXPECT_NEAR(state.position[1], 0.01 * 0.05 / 2.0, 1e-15);
}

TEST(StepFreelyTest, RefusesWhatDoesNotConvergeAndLeavesTheState) {
  const RobotModel model = Body();
  MidpointInterval interval;
  interval.Resize(6);
  KnotState state = {VectorXd::Zero(6), VectorXd::Zero(6)};
  const KnotState before = state;
  const VectorXd force = VectorXd::Constant(6, std::numeric_limits<double>::quiet_NaN());
  EXPECT_EQ(StepFreely(model, force, 0.01, &state, &interval).code(), absl::StatusCode::kInternal);
  EXPECT_EQ(state.position, before.position);
  EXPECT_EQ(state.momentum, before.momentum);
}

}  // namespace
}  // namespace gaitshelf::solver
