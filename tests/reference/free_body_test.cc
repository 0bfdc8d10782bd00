// Bodies in free flight: the asymmetric top, and what the integrator keeps for a whole robot.
#include <array>
#include <cmath>
#include <memory>

#include <Eigen/Cholesky>
#include <Eigen/Geometry>
#include <gtest/gtest.h>

#include "solver/leg/attitude.h"
#include "solver/leg/robot_model.h"
#include "tests/support/free_step.h"
#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Matrix3d;
using Eigen::Quaterniond;
using Eigen::Vector3d;
using Eigen::VectorXd;

void Fly(const RobotModel& model, double h, int count, KnotState* state) {
  MidpointInterval interval;
  interval.Resize(model.coordinate_count());
  const VectorXd none = VectorXd::Zero(model.coordinate_count());
  for (int i = 0; i < count; ++i) {
    ASSERT_THAT(test::StepFreely(model, none, h, state, &interval), test::IsOk());
  }
}

Matrix3d RotationOf(const VectorXd& q) {
  Attitude attitude;
  EvaluateAttitude(q.segment<3>(3), AttitudeOrder::kValue, &attitude);
  return attitude.rotation;
}

// Moments of inertia 1 : 2 : 3.
RobotModel AsymmetricTop() {
  v1::Robot robot = test::MakeBody(1.0, 1.0);
  test::SetVector(robot.mutable_body()->mutable_inertia_kg_m2(), 1.0 / 3.0, 2.0 / 3.0, 1.0);
  return RobotModel::Create(robot, test::MakeSurface(0.0), Scale())->InFreeFall();
}

// Attitude 0 and body rates (0.6, 0, 1.5).
KnotState StartTop(const RobotModel& model) {
  VectorXd v = VectorXd::Zero(6);
  v.tail<3>() << 0.6, 0.0, 1.5;  // at attitude 0 the angles' rates are the body's
  LagrangianTerms terms;
  model.Evaluate(VectorXd::Zero(6), v, DerivativeOrder::kFirst, &terms);
  return {VectorXd::Zero(6), terms.momentum};
}

// Euler's equations are solved by Jacobi's elliptic functions (L. D. Landau and E. M. Lifshitz,
// Mechanics, section 37, from memory). Rates and attitudes below were computed from them and by
// SciPy (quaternion w x y z, body to space), which agree to 5e-14.
TEST(AsymmetricTopTest, TendsToTheEllipticSolutionWithOrderTwo) {
  const RobotModel model = AsymmetricTop();
  struct Row {
    double time_s;
    Quaterniond attitude;
  };
  for (const Row& row :
       {Row{0.5, {0.920645724399507, 0.12646102100787526, 0.04977868604863049, 0.365979702614542}},
        Row{2.0,
            {0.028890267919198947,
             0.0018417201911681792,
             0.028302745223998612,
             0.9991801214491197}},
        Row{10.0,
            {0.14467621356475177, 0.04135843717830424, 0.12046006546077567, 0.9812480040906636}}}) {
    std::array<Matrix3d, 3> rotation;
    std::array<double, 3> error{};
    const Matrix3d exact = row.attitude.toRotationMatrix();
    for (size_t i = 0; i < 3; ++i) {
      const auto count = static_cast<int>(row.time_s * 100) << i;
      KnotState state = StartTop(model);
      Fly(model, row.time_s / count, count, &state);
      rotation[i] = RotationOf(state.position);
      error[i] = (rotation[i] - exact).norm();
    }
    EXPECT_NEAR(std::log2(error[1] / error[2]), 2.0, 0.02) << row.time_s;
    EXPECT_LT(((4.0 * rotation[2] - rotation[1]) / 3.0 - exact).norm(), 1e-6) << row.time_s;
  }
}

// Angular momentum about the surface's normal belongs to the yaw angle, on which nothing depends,
// so the scheme keeps it to rounding. The other two parts, for which three angles have no
// coordinate of their own, err by the order of the scheme and do not drift. (An integrator on the
// rotation group would keep all three.)
TEST(AsymmetricTopTest, KeepsItsAngularMomentum) {
  const RobotModel model = AsymmetricTop();
  const Vector3d start(0.6 / 3.0, 0.0, 1.5);
  std::array<double, 2> worst{};
  for (size_t i = 0; i < 2; ++i) {
    KnotState state = StartTop(model);
    LagrangianTerms terms;
    const double h = 0.01 / (1 << i);
    for (int k = 0; k < 1000 << i; ++k) {
      Fly(model, h, 1, &state);
      ASSERT_NEAR(state.momentum[5], start[2], 1e-14 * (k + 100));
      model.Evaluate(state.position, VectorXd::Zero(6), DerivativeOrder::kSecond, &terms);
      const VectorXd rate = terms.momentum_v.ldlt().solve(state.momentum);
      Attitude attitude;
      EvaluateAttitude(state.position.segment<3>(3), AttitudeOrder::kFirst, &attitude);
      Matrix3d turn = Matrix3d::Zero();
      for (size_t a = 0; a < 3; ++a) {
        turn += attitude.rotation_d[a] * rate[3 + static_cast<Eigen::Index>(a)];
      }
      const Matrix3d skew = attitude.rotation.transpose() * turn;  // of the body's rate
      const Vector3d body(skew(2, 1), skew(0, 2), skew(1, 0));
      const Vector3d momentum =
          attitude.rotation * Vector3d(1.0 / 3.0, 2.0 / 3.0, 1.0).cwiseProduct(body);
      worst[i] = std::max(worst[i], (momentum - start).norm());
    }
  }
  EXPECT_LT(worst[0], 1e-4);
  EXPECT_NEAR(worst[0] / worst[1], 4.0, 0.1);
}

// A quadruped thrown up with its legs ringing, without losses. What a variational scheme keeps
// (Marsden and West, Acta Numerica 10 (2001) 357-514): linear momentum but for gravity's exact
// share, momentum about the vertical, the way back, and energy near its start for long.
class ThrownRobotTest : public ::testing::Test {
 protected:
  ThrownRobotTest() {
    v1::Robot robot = test::MakeQuadruped();
    for (v1::Leg& leg : *robot.mutable_legs()) {
      for (v1::LegCoordinate* coordinate :
           {leg.mutable_lumped()->mutable_lift(), leg.mutable_lumped()->mutable_swing()}) {
        coordinate->set_damping_n_s_per_m(0.0);
      }
    }
    model_ = std::make_unique<RobotModel>(
        *RobotModel::Create(robot, test::MakeSurface(0.5), Scale{0.011, 1.9e-3, 0.0334857}));
    const Eigen::Index n = model_->coordinate_count();
    VectorXd q = VectorXd::Zero(n);
    q[2] = 10.0;
    VectorXd v(n);
    for (Eigen::Index i = 0; i < n; ++i) {
      v[i] = 0.3 * std::sin(1.0 + 2.0 * static_cast<double>(i));
    }
    // Far from a pitch of 90 degrees, where the angles turn singular.
    v.segment<2>(3).setZero();
    LagrangianTerms terms;
    model_->Evaluate(q, v, DerivativeOrder::kFirst, &terms);
    start_ = {q, terms.momentum};
  }

  static double EnergyAt(const RobotModel& model, const KnotState& state) {
    LagrangianTerms terms;
    model.Evaluate(
        state.position, VectorXd::Zero(state.position.size()), DerivativeOrder::kSecond, &terms);
    return model.Energy(state.position, terms.momentum_v.ldlt().solve(state.momentum));
  }

  std::unique_ptr<RobotModel> model_;
  KnotState start_;
};

TEST_F(ThrownRobotTest, KeepsItsMomenta) {
  KnotState state = start_;
  constexpr double kStep = 0.01;
  for (int i = 1; i <= 1000; ++i) {
    Fly(*model_, kStep, 1, &state);
    const Vector3d given = kStep * i * model_->total_mass() * model_->gravity();
    ASSERT_LT((state.momentum.head<3>() - start_.momentum.head<3>() - given).norm(), 1e-12 * i);
  }
}

TEST_F(ThrownRobotTest, ComesBackTheWayItWent) {
  KnotState state = start_;
  Fly(*model_, 0.01, 100, &state);
  Fly(*model_, -0.01, 100, &state);
  EXPECT_LT((state.position - start_.position).norm(), 1e-11);
  EXPECT_LT((state.momentum - start_.momentum).norm(), 1e-11);
}

TEST_F(ThrownRobotTest, ConvergesWithOrderTwo) {
  std::array<VectorXd, 4> end;
  for (size_t i = 0; i < 4; ++i) {
    KnotState state = start_;
    Fly(*model_, 0.002 / (1 << i), 200 << i, &state);
    end[i] = state.position;
  }
  const double first = (end[0] - end[1]).norm();
  const double second = (end[1] - end[2]).norm();
  const double third = (end[2] - end[3]).norm();
  EXPECT_NEAR(std::log2(first / second), 2.0, 0.1);
  EXPECT_NEAR(std::log2(second / third), 2.0, 0.1);
}

TEST_F(ThrownRobotTest, KeepsItsEnergyNearOverTenThousandSteps) {
  // Falling with it, or the growing energy of the fall drowns the rest in rounding.
  const RobotModel model = model_->InFreeFall();
  KnotState state = start_;
  constexpr double kStep = 0.02;
  constexpr int kCount = 10000;
  const double start = EnergyAt(model, state);
  double worst = 0.0, sum_t = 0.0, sum_e = 0.0, sum_tt = 0.0, sum_te = 0.0;
  for (int i = 0; i < kCount; ++i) {
    const double t = i * kStep, e = EnergyAt(model, state) - start;
    worst = std::max(worst, std::abs(e));
    sum_t += t;
    sum_e += e;
    sum_tt += t * t;
    sum_te += t * e;
    Fly(model, kStep, 1, &state);
    ASSERT_FALSE(HasFatalFailure());
  }
  const double slope = (kCount * sum_te - sum_t * sum_e) / (kCount * sum_tt - sum_t * sum_t);
  EXPECT_GT(worst, 1e-10) << "rounding would have no slope either";
  EXPECT_LT(std::abs(slope) * kCount * kStep, 0.1 * worst);
}

}  // namespace
}  // namespace gaitshelf::solver
