#include "solver/leg/robot_model.h"

#include <random>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using ::testing::HasSubstr;

RobotModel Model(const v1::Robot& robot, double friction = 0.45, double slope_rad = 0.0) {
  return *RobotModel::Create(robot, test::MakeSurface(friction, slope_rad), Scale());
}

Eigen::VectorXd DrawPosition(const RobotModel& model) {
  std::mt19937 random(11);
  std::uniform_real_distribution<double> unit(-1.0, 1.0);
  Eigen::VectorXd q =
      Eigen::VectorXd::NullaryExpr(model.coordinate_count(), [&] { return unit(random); });
  q.tail(2 * model.leg_count()) *= 0.002;
  return q;
}

class RobotModelTest : public ::testing::TestWithParam<bool> {
 protected:
  v1::Robot Robot() const {
    v1::Robot robot = test::MakeHexapod();
    if (GetParam()) {
      robot.mutable_body()->set_support(v1::BODY_SUPPORT_CLAMPED);
      robot.mutable_body()->set_clamp_height_m(0.03);
    }
    return robot;
  }
};

TEST_P(RobotModelTest, FootJacobianAgreesWithCentralDifferences) {
  const RobotModel model = Model(Robot());
  const Eigen::VectorXd q = DrawPosition(model);
  constexpr double kStep = 1e-6;
  FootKinematics at, above, below;
  for (Eigen::Index foot = 0; foot < model.foot_count(); ++foot) {
    model.EvaluateFoot(q, foot, true, &at);
    for (Eigen::Index i = 0; i < model.coordinate_count(); ++i) {
      const Eigen::VectorXd step = kStep * Eigen::VectorXd::Unit(model.coordinate_count(), i);
      model.EvaluateFoot(q + step, foot, false, &above);
      model.EvaluateFoot(q - step, foot, false, &below);
      EXPECT_LT(((above.position - below.position) / (2.0 * kStep) - at.jacobian.col(i)).norm(),
                1e-9)
          << foot << " " << i;
    }
  }
}

TEST_P(RobotModelTest, FootHessianAgreesWithCentralDifferences) {
  const RobotModel model = Model(Robot());
  const Eigen::Index n = model.coordinate_count();
  const Eigen::VectorXd q = DrawPosition(model);
  const Eigen::Vector3d force(0.3, -0.8, 1.7);
  constexpr double kStep = 1e-6;
  FootKinematics above, below;
  for (Eigen::Index foot = 0; foot < model.foot_count(); ++foot) {
    Eigen::MatrixXd hessian = Eigen::MatrixXd::Constant(n, n, 0.5);
    model.AddFootHessian(q, foot, force, &hessian);
    for (Eigen::Index i = 0; i < n; ++i) {
      const Eigen::VectorXd step = kStep * Eigen::VectorXd::Unit(n, i);
      model.EvaluateFoot(q + step, foot, true, &above);
      model.EvaluateFoot(q - step, foot, true, &below);
      const Eigen::VectorXd numeric =
          (above.jacobian - below.jacobian).transpose() * force / (2.0 * kStep);
      EXPECT_LT((numeric.array() + 0.5 - hessian.col(i).array()).matrix().norm(), 1e-8)
          << foot << " " << i;
    }
  }
}

TEST_P(RobotModelTest, DriveForceIsLinearInDriveAndDoesWorkOnTheTipTravel) {
  const RobotModel model = Model(Robot());
  const Eigen::VectorXd q = DrawPosition(model);
  Eigen::VectorXd u = Eigen::VectorXd::LinSpaced(model.drive_count(), -1.0, 0.9);
  Eigen::VectorXd force;
  Eigen::MatrixXd by_u;
  model.DriveForce(q, u, &force);
  model.DriveJacobian(q, &by_u);
  EXPECT_LT((force - by_u * u).norm(), 1e-15);
  // Lift of leg 0: force at the foot = gain * volts / ratio.
  EXPECT_NEAR(force[model.base_count()], 1.8e-3 * 100.0 * u[0] / -10.4, 1e-15);
  Eigen::MatrixXd hessian =
      Eigen::MatrixXd::Zero(model.coordinate_count(), model.coordinate_count());
  model.AddDriveHessian(q, u, &hessian);
  EXPECT_EQ(hessian.norm(), 0.0);  // the travel of a lumped leg is linear
}

INSTANTIATE_TEST_SUITE_P(Supports, RobotModelTest, ::testing::Bool(), [](const auto& one) {
  return one.param ? "Clamped" : "Free";
});

TEST(RobotModelTest, CountsLegsFeetAndDrives) {
  const RobotModel model = Model(test::MakeHexapod());
  EXPECT_EQ(model.coordinate_count(), 18);
  EXPECT_EQ(model.leg_count(), 6);
  EXPECT_EQ(model.foot_count(), 7);
  EXPECT_EQ(model.drive_count(), 12);
  EXPECT_NEAR(model.total_mass(), 3.37e-3 + 6 * 4e-6, 1e-15);
}

TEST(RobotModelTest, ReferencePostureStandsOnTheLowestFoot) {
  const RobotModel model = Model(test::MakeQuadruped());
  EXPECT_NEAR(model.ReferencePosture()[2], 0.011, 1e-15);
}

TEST(RobotModelTest, GravityLeansBackOnASlope) {
  const Eigen::Vector3d gravity = Model(test::MakeQuadruped(), 0.45, 0.5).gravity();
  EXPECT_NEAR(gravity[0], -9.81 * std::sin(0.5), 1e-12);
  EXPECT_NEAR(gravity[2], -9.81 * std::cos(0.5), 1e-12);
}

TEST(RobotModelTest, ScaleChangesUnitsOnly) {
  Scale scale;
  scale.length_m = 0.011;
  scale.mass_kg = 1.9e-3;
  scale.time_s = 0.0335;
  const RobotModel si = Model(test::MakeQuadruped());
  const RobotModel scaled =
      *RobotModel::Create(test::MakeQuadruped(), test::MakeSurface(0.45), scale);
  Eigen::VectorXd q = DrawPosition(si);
  Eigen::VectorXd v = 0.1 * DrawPosition(si);
  Eigen::VectorXd q_scaled = q / scale.length_m;
  Eigen::VectorXd v_scaled = v / scale.speed_m_per_s();
  q_scaled.segment<3>(3) = q.segment<3>(3);
  v_scaled.segment<3>(3) = v.segment<3>(3) * scale.time_s;
  const double energy_unit = scale.force_n() * scale.length_m;
  EXPECT_NEAR(scaled.Energy(q_scaled, v_scaled) * energy_unit,
              si.Energy(q, v),
              1e-12 * std::abs(si.Energy(q, v)));
}

TEST(RobotModelTest, LinearMomentumIsTotalMassTimesVelocityWhenNothingTurns) {
  const RobotModel model = Model(test::MakeHexapod(), 0.45, 0.3);
  Eigen::VectorXd v = Eigen::VectorXd::Zero(model.coordinate_count());
  v.head<3>() = Eigen::Vector3d(0.3, -0.1, 0.2);
  LagrangianTerms terms;
  model.Evaluate(DrawPosition(model), v, DerivativeOrder::kFirst, &terms);
  EXPECT_LT((terms.momentum.head<3>() - model.total_mass() * v.head<3>()).norm(), 1e-15);
  EXPECT_LT((terms.force.head<3>() - model.total_mass() * model.gravity()).norm(), 1e-15);
}

// Check value: a leg on a bench is two independent mass-spring-damper systems.
TEST(RobotModelTest, ClampedLegIsAMassSpringDamper) {
  v1::Robot robot = test::MakeBody(1e-3, 1e-7);
  test::AddLeg(&robot, 0.0, 0.0, -0.011);
  robot.mutable_body()->set_support(v1::BODY_SUPPORT_CLAMPED);
  robot.mutable_body()->set_clamp_height_m(0.05);
  const RobotModel model = Model(robot);
  ASSERT_EQ(model.coordinate_count(), 2);
  const Eigen::Vector2d q(0.0015, -0.003);
  const Eigen::Vector2d v(0.2, -0.4);
  LagrangianTerms terms;
  model.Evaluate(q, v, DerivativeOrder::kSecond, &terms);
  const double lift_mass = 4e-6 + 1.92e-6 + 20e-6 / (10.4 * 10.4);
  const double swing_mass = 4e-6 + 2.85e-6 + 20e-6 / (12.3 * 12.3);
  const double lift_stiffness = 1.36 + 90.0 / (10.4 * 10.4);
  const double swing_stiffness = 1.063 + 200.0 / (12.3 * 12.3);
  EXPECT_NEAR(terms.momentum[0], lift_mass * 0.2, 1e-18);
  EXPECT_NEAR(terms.momentum[1], swing_mass * -0.4, 1e-18);
  EXPECT_NEAR(terms.force[0], -lift_stiffness * 0.0015 - 1.09e-4 * 0.2 - 4e-6 * 9.81, 1e-15);
  EXPECT_NEAR(terms.force[1], swing_stiffness * 0.003 + 8.5e-5 * 0.4, 1e-15);
  EXPECT_NEAR(terms.force_q(0, 0), -lift_stiffness, 1e-14);
  EXPECT_NEAR(terms.force_v(0, 0), -1.09e-4, 1e-18);
  EXPECT_EQ(terms.force_q(0, 1), 0.0);
}

TEST(RobotModelTest, RefusesADescriptionWithAMissingVectorAndNamesTheField) {
  v1::Robot robot = test::MakeQuadruped();
  robot.mutable_legs(2)->mutable_lumped()->mutable_swing()->clear_direction_ratio();
  const auto model = RobotModel::Create(robot, test::MakeSurface(0.45), Scale());
  EXPECT_EQ(model.status().code(), absl::StatusCode::kInvalidArgument);
  EXPECT_THAT(std::string(model.status().message()),
              HasSubstr("legs[2].lumped.swing.direction_ratio has 0 numbers"));
}

}  // namespace
}  // namespace gaitshelf::solver
