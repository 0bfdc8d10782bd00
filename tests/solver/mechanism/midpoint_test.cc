#include "solver/mechanism/midpoint.h"

#include <random>

#include <gtest/gtest.h>

#include "solver/leg/robot_model.h"
#include "tests/support/free_step.h"
#include "tests/support/robots.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

class MidpointTest : public ::testing::Test {
 protected:
  MidpointTest() {
    Scale scale;
    scale.length_m = 0.011;
    scale.mass_kg = 3.4e-3;
    scale.time_s = 0.0335;
    robot_ = test::MakeHexapod();
    scale_ = scale;
  }

  RobotModel Model() const {
    return *RobotModel::Create(robot_, test::MakeSurface(0.4, 0.2), scale_);
  }

  // Two positions a small step apart.
  static void Draw(Index n, VectorXd* q0, VectorXd* q1) {
    std::mt19937 random(3);
    std::uniform_real_distribution<double> unit(-1.0, 1.0);
    *q0 = VectorXd::NullaryExpr(n, [&] { return 0.1 * unit(random); });
    *q1 = *q0 + VectorXd::NullaryExpr(n, [&] { return 0.05 * unit(random); });
  }

  v1::Robot robot_;
  Scale scale_;
};

TEST_F(MidpointTest, MatricesAgreeWithCentralDifferences) {
  const RobotModel model = Model();
  const Index n = model.coordinate_count();
  VectorXd q0, q1;
  Draw(n, &q0, &q1);
  constexpr double kPeriod = 0.05;
  constexpr double kStep = 1e-6;
  MidpointInterval at, above, below;
  at.Resize(n);
  EvaluateMidpoint(model, q0, q1, kPeriod, DerivativeOrder::kSecond, &at);
  for (Index i = 0; i < n; ++i) {
    const VectorXd step = kStep * VectorXd::Unit(n, i);
    // Entries are about 1 / period^2 = 400; differences at 1e-6 leave 1e-8 of that.
    const auto error = [](const VectorXd& high, const VectorXd& low, const VectorXd& analytic) {
      return ((high - low) / (2.0 * kStep) - analytic).norm();
    };
    EvaluateMidpoint(model, q0 + step, q1, kPeriod, DerivativeOrder::kFirst, &above);
    EvaluateMidpoint(model, q0 - step, q1, kPeriod, DerivativeOrder::kFirst, &below);
    EXPECT_LT(error(above.left, below.left, at.left_q0.col(i)), 1e-5) << i;
    EXPECT_LT(error(above.right, below.right, at.right_q0.col(i)), 1e-5) << i;
    EvaluateMidpoint(model, q0, q1 + step, kPeriod, DerivativeOrder::kFirst, &above);
    EvaluateMidpoint(model, q0, q1 - step, kPeriod, DerivativeOrder::kFirst, &below);
    EXPECT_LT(error(above.left, below.left, at.left_q1.col(i)), 1e-5) << i;
    EXPECT_LT(error(above.right, below.right, at.right_q1.col(i)), 1e-5) << i;
  }
}

// Without damping the two ends are the derivatives of the discrete Lagrangian over the period.
TEST_F(MidpointTest, EndsAreTheDerivativesOfTheDiscreteLagrangian) {
  for (v1::Leg& leg : *robot_.mutable_legs()) {
    leg.mutable_lumped()->mutable_lift()->set_damping_n_s_per_m(0.0);
    leg.mutable_lumped()->mutable_swing()->set_damping_n_s_per_m(0.0);
  }
  const RobotModel model = Model();
  const Index n = model.coordinate_count();
  VectorXd q0, q1;
  Draw(n, &q0, &q1);
  constexpr double kPeriod = 0.05;
  constexpr double kStep = 1e-6;
  MidpointInterval at;
  EvaluateMidpoint(model, q0, q1, kPeriod, DerivativeOrder::kFirst, &at);
  const auto lagrangian = [&](const VectorXd& a, const VectorXd& b) {
    const VectorXd v = (b - a) / kPeriod;
    LagrangianTerms terms;
    model.Evaluate(0.5 * (a + b), v, DerivativeOrder::kFirst, &terms);
    return terms.momentum.dot(v) - model.Energy(0.5 * (a + b), v);
  };
  for (Index i = 0; i < n; ++i) {
    const VectorXd step = kStep * VectorXd::Unit(n, i);
    const double by_q0 = (lagrangian(q0 + step, q1) - lagrangian(q0 - step, q1)) / (2.0 * kStep);
    const double by_q1 = (lagrangian(q0, q1 + step) - lagrangian(q0, q1 - step)) / (2.0 * kStep);
    EXPECT_NEAR(at.left[i], by_q0, 1e-6) << i;
    EXPECT_NEAR(at.right[i], by_q1, 1e-6) << i;
  }
}

TEST(MidpointStepTest, FallsExactlyUnderConstantForce) {
  const RobotModel model =
      *RobotModel::Create(test::MakeBody(2.0, 1e-3), test::MakeSurface(0.4), Scale());
  MidpointInterval interval;
  interval.Resize(6);
  KnotState state = {VectorXd::Zero(6), VectorXd::Zero(6)};
  state.momentum.head<3>() = 2.0 * Eigen::Vector3d(0.3, -0.1, 1.0);
  for (int i = 0; i < 50; ++i) {
    ASSERT_TRUE(test::StepFreely(model, VectorXd::Zero(6), 0.01, &state, &interval).ok());
  }
  EXPECT_NEAR(state.position[0], 0.15, 1e-13);
  EXPECT_NEAR(state.position[1], -0.05, 1e-13);
  EXPECT_NEAR(state.position[2], 0.5 - 0.5 * 9.81 * 0.25, 1e-13);
  EXPECT_NEAR(state.momentum[2], 2.0 * (1.0 - 9.81 * 0.5), 1e-12);
}

TEST(MidpointStepTest, AddsTheImpulseOfAFurtherForce) {
  const RobotModel model =
      *RobotModel::Create(test::MakeBody(2.0, 1e-3), test::MakeSurface(0.4), Scale());
  MidpointInterval interval;
  interval.Resize(6);
  KnotState state = {VectorXd::Zero(6), VectorXd::Zero(6)};
  const VectorXd force = 5.0 * VectorXd::Unit(6, 1);
  ASSERT_TRUE(test::StepFreely(model, force, 0.01, &state, &interval).ok());
  EXPECT_NEAR(state.momentum[1], 0.05, 1e-15);
  EXPECT_NEAR(state.position[1], 0.01 * 0.05 / 2.0, 1e-15);
}

}  // namespace
}  // namespace gaitshelf::solver
