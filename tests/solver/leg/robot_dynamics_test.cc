#include <functional>
#include <random>
#include <string>

#include <Eigen/Cholesky>
#include <gtest/gtest.h>

#include "solver/leg/robot_model.h"
#include "tests/support/robots.h"

namespace gaitshelf::solver {
namespace {

struct Case {
  std::string name;
  v1::Robot robot;
  v1::Surface surface;
};

Case Clamped(Case free) {
  free.name += "Clamped";
  free.robot.mutable_body()->set_support(v1::BODY_SUPPORT_CLAMPED);
  free.robot.mutable_body()->set_clamp_height_m(0.02);
  return free;
}

std::vector<Case> Cases() {
  v1::Robot point = test::MakeBody(2e-3, 1e-7);
  test::AddBodyFoot(&point, 0.0, 0.0, 0.0);
  const Case quadruped = {"Quadruped", test::MakeQuadruped(), test::MakeSurface(0.45)};
  const Case hexapod = {"Hexapod", test::MakeHexapod(), test::MakeSurface(0.85)};
  const Case slope = {"HexapodOnSlope", test::MakeHexapod(), test::MakeSurface(0.45, 0.3)};
  return {quadruped,
          hexapod,
          slope,
          Clamped(quadruped),
          Clamped(slope),
          {"Point", point, test::MakeSurface(0.18, 0.5)}};
}

Scale SmallScale() {
  Scale scale;
  scale.length_m = 0.011;
  scale.mass_kg = 1.9e-3;
  scale.time_s = std::sqrt(0.011 / kGravityMPerS2);
  return scale;
}

class RobotDynamicsTest : public ::testing::TestWithParam<Case> {
 protected:
  RobotDynamicsTest()
      : model_(*RobotModel::Create(GetParam().robot, GetParam().surface, SmallScale())),
        n_(model_.coordinate_count()) {}

  // A state well off the reference, some legs in their stops.
  void Draw(Eigen::VectorXd* q, Eigen::VectorXd* v) {
    std::uniform_real_distribution<double> unit(-1.0, 1.0);
    *q = Eigen::VectorXd::NullaryExpr(n_, [&] { return unit(random_); });
    *v = Eigen::VectorXd::NullaryExpr(n_, [&] { return 2.0 * unit(random_); });
    q->tail(2 * model_.leg_count()) *= 0.4;
  }

  LagrangianTerms At(const Eigen::VectorXd& q, const Eigen::VectorXd& v) const {
    LagrangianTerms terms;
    model_.Evaluate(q, v, DerivativeOrder::kSecond, &terms);
    return terms;
  }

  // Lagrangian from energy and momentum: L = momentum . v - energy.
  double Value(const Eigen::VectorXd& q, const Eigen::VectorXd& v) const {
    return At(q, v).momentum.dot(v) - model_.Energy(q, v);
  }

  Eigen::VectorXd Unit(Eigen::Index i) const { return Eigen::VectorXd::Unit(n_, i); }

  RobotModel model_;
  Eigen::Index n_;
  std::mt19937 random_{7};
};

// Central differences at 1e-5: truncation and rounding both about 1e-9 of the entries' size.
constexpr double kStep = 1e-5;
constexpr double kTolerance = 2e-8;

double Near(double size) { return kTolerance * (1.0 + std::abs(size)); }

TEST_P(RobotDynamicsTest, VectorsAreTheDerivativesOfTheLagrangian) {
  for (int draw = 0; draw < 10; ++draw) {
    Eigen::VectorXd q, v;
    Draw(&q, &v);
    const LagrangianTerms terms = At(q, v);
    const double size = std::abs(Value(q, v));
    for (Eigen::Index i = 0; i < n_; ++i) {
      const Eigen::VectorXd step = kStep * Unit(i);
      const double by_v = (Value(q, v + step) - Value(q, v - step)) / (2.0 * kStep);
      EXPECT_NEAR(terms.momentum[i], by_v, Near(size)) << i;
      // The damping force is what remains of the force beyond dL/dq; it is what costs power.
      LagrangianTerms rest = At(q, Eigen::VectorXd::Zero(n_));
      const double by_q = (Value(q + step, v) - Value(q - step, v)) / (2.0 * kStep);
      const Eigen::VectorXd unit = Unit(i) * v[i];
      const double damping = v[i] == 0.0 ? 0.0 : model_.DampingPower(q, unit) / v[i];
      EXPECT_NEAR(terms.force[i], by_q - damping, Near(size)) << i;
    }
  }
}

TEST_P(RobotDynamicsTest, MatricesAreTheDerivativesOfTheVectors) {
  for (int draw = 0; draw < 10; ++draw) {
    Eigen::VectorXd q, v;
    Draw(&q, &v);
    const LagrangianTerms terms = At(q, v);
    for (Eigen::Index i = 0; i < n_; ++i) {
      const Eigen::VectorXd step = kStep * Unit(i);
      const LagrangianTerms q_above = At(q + step, v), q_below = At(q - step, v);
      const LagrangianTerms v_above = At(q, v + step), v_below = At(q, v - step);
      const auto error = [&](const Eigen::VectorXd& above,
                             const Eigen::VectorXd& below,
                             const Eigen::VectorXd& analytic) {
        return ((above - below) / (2.0 * kStep) - analytic).norm() / (1.0 + analytic.norm());
      };
      EXPECT_LT(error(q_above.force, q_below.force, terms.force_q.col(i)), kTolerance) << i;
      EXPECT_LT(error(v_above.force, v_below.force, terms.force_v.col(i)), kTolerance) << i;
      EXPECT_LT(error(q_above.momentum, q_below.momentum, terms.momentum_q.col(i)), kTolerance)
          << i;
      EXPECT_LT(error(v_above.momentum, v_below.momentum, terms.momentum_v.col(i)), kTolerance)
          << i;
    }
  }
}

TEST_P(RobotDynamicsTest, MassMatrixIsSymmetricAndPositive) {
  Eigen::VectorXd q, v;
  Draw(&q, &v);
  const LagrangianTerms terms = At(q, v);
  EXPECT_LT((terms.momentum_v - terms.momentum_v.transpose()).norm(), 1e-15);
  EXPECT_EQ(Eigen::LLT<Eigen::MatrixXd>(terms.momentum_v).info(), Eigen::Success);
  EXPECT_LT((terms.momentum_v * v - terms.momentum).norm(), 1e-13 * (1.0 + terms.momentum.norm()));
}

TEST_P(RobotDynamicsTest, FirstOrderGivesTheSameVectors) {
  Eigen::VectorXd q, v;
  Draw(&q, &v);
  LagrangianTerms first;
  model_.Evaluate(q, v, DerivativeOrder::kFirst, &first);
  const LagrangianTerms second = At(q, v);
  EXPECT_EQ(first.force, second.force);
  EXPECT_EQ(first.momentum, second.momentum);
}

TEST_P(RobotDynamicsTest, PowerOfTheForcesIsTheLossInDamping) {
  // d(Energy)/dt = momentum_dot . v - force . v with the force's damping: follow a free motion over
  // a tiny time and compare the change of energy with the damping power.
  Eigen::VectorXd q, v;
  Draw(&q, &v);
  const LagrangianTerms terms = At(q, v);
  const Eigen::VectorXd acceleration =
      terms.momentum_v.ldlt().solve(terms.force - terms.momentum_q * v);
  constexpr double kTime = 1e-6;
  const double above =
      model_.Energy(q + kTime * v + 0.5 * kTime * kTime * acceleration, v + kTime * acceleration);
  const double below =
      model_.Energy(q - kTime * v + 0.5 * kTime * kTime * acceleration, v - kTime * acceleration);
  const double power = model_.DampingPower(q, v);
  EXPECT_GE(power, 0.0);
  EXPECT_NEAR((above - below) / (2.0 * kTime), -power, 1e-6 * (1.0 + std::abs(above)));
}

INSTANTIATE_TEST_SUITE_P(Robots,
                         RobotDynamicsTest,
                         ::testing::ValuesIn(Cases()),
                         [](const auto& one) { return one.param.name; });

}  // namespace
}  // namespace gaitshelf::solver
