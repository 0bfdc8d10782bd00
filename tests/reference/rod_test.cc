// A slender rod whose end meets the surface, against closed forms: impact, and jamming under
// friction. It is a robot without legs; the replay's own law and step play it.
#include <array>
#include <cmath>

#include <Eigen/Cholesky>
#include <gtest/gtest.h>

#include "solver/replay/foot_law.h"
#include "tests/reference/play.h"
#include "tests/support/robots.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::Vector3d;
using Eigen::VectorXd;
using test::Play;

constexpr double kDegree = M_PI / 180.0;

// A uniform slender rod of mass 1 and half length 1 along x, a foot at each end. Its turn about its
// own axis does not matter.
v1::Robot Rod() {
  v1::Robot robot = test::MakeBody(1.0, 1.0 / 3.0);
  test::SetVector(robot.mutable_body()->mutable_inertia_kg_m2(), 1e-3, 1.0 / 3.0, 1.0 / 3.0);
  test::AddBodyFoot(&robot, -1.0, 0.0, 0.0);
  test::AddBodyFoot(&robot, 1.0, 0.0, 0.0);
  return robot;
}

// The rod raised by an angle above the surface, its rear end on it.
VectorXd RodPosture(double angle_rad) {
  VectorXd q = VectorXd::Zero(6);
  q[2] = std::sin(angle_rad);
  q[4] = -angle_rad;
  return q;
}

// Mobility of a foot: displacement per force and squared time.
Eigen::Matrix3d Mobility(const RobotModel& model, const VectorXd& q, Index foot) {
  LagrangianTerms terms;
  model.Evaluate(q, VectorXd::Zero(q.size()), DerivativeOrder::kSecond, &terms);
  FootKinematics kinematics;
  model.EvaluateFoot(q, foot, true, &kinematics);
  return kinematics.jacobian * terms.momentum_v.llt().solve(kinematics.jacobian.transpose());
}

// Velocity after the first step of a rod that falls with speed 1 on its rear end.
VectorXd AfterImpact(double angle_rad, double friction, double h, double* slip) {
  Play play(Rod(), friction, 0.0, h, StepTolerance::kContact);
  VectorXd v = VectorXd::Zero(6);
  v[2] = -1.0;
  play.Start(RodPosture(angle_rad), v);
  play.Step();
  *slip = play.report().foot_motion.col(0).head<2>().norm() / h;
  return play.v();
}

// A rod falls flat-footed with speed v on one end, at an angle f from the horizontal, restitution
// 0. Its rate afterwards, times half length over v: 3 cos f / (1 + 3 cos^2 f) without friction, 3/4
// cos f when the end sticks, which it does from friction 3 sin 2f / (2 (1 + 3 sin^2 f)). Derived
// from the impulse balance and computed apart from this program.
TEST(RodImpactTest, TurnsByTheImpulseBalance) {
  constexpr double kStep = 1e-4;  // so gravity and the turn within the step are of its order
  struct Row {
    double degrees, rate_without_friction, rate_sticking, least_friction;
  };
  for (const Row& row : {Row{15, 0.7627660998022744, 0.7244443697168013, 0.6244994146317795},
                         Row{30, 0.7994080650317894, 0.649519052838329, 0.7423074889580903},
                         Row{45, 0.8485281374238569, 0.5303300858899107, 0.6000000000000001},
                         Row{60, 0.8571428571428572, 0.3750000000000001, 0.39970403251589487}}) {
    const double angle = row.degrees * kDegree;
    double slip = 0.0;
    EXPECT_NEAR(AfterImpact(angle, 0.0, kStep, &slip)[4], row.rate_without_friction, 10.0 * kStep);
    const VectorXd above = AfterImpact(angle, row.least_friction + 0.01, kStep, &slip);
    EXPECT_NEAR(above[4], row.rate_sticking, 10.0 * kStep) << row.degrees;
    // J = m v (1 + 3 sin^2 f) / 4 upwards and 3/8 m v sin 2f along the surface.
    const double sine = std::sin(angle);
    EXPECT_NEAR(1.0 + above[2], 0.25 * (1.0 + 3.0 * sine * sine), 10.0 * kStep) << row.degrees;
    EXPECT_NEAR(above[0], 0.375 * std::sin(2.0 * angle), 10.0 * kStep) << row.degrees;
    EXPECT_LT(slip, 1e-6) << row.degrees;
    AfterImpact(angle, row.least_friction - 0.01, kStep, &slip);
    EXPECT_GT(slip, 1e-3) << row.degrees;
  }
}

// A rod dropped on its end on a rough surface: across the impact and the switches between sticking
// and sliding the scheme is of order 1, not 2 (common practice, no source).
TEST(RodImpactTest, ConvergesWithOrderOneAcrossContact) {
  std::array<VectorXd, 5> end;
  for (size_t i = 0; i < end.size(); ++i) {
    const int count = 100 << i;
    Play play(Rod(), 0.3, 0.0, 0.4 / count, StepTolerance::kContact);
    VectorXd q = RodPosture(0.7);
    q[2] += 0.1;
    play.Start(q, VectorXd::Zero(6));
    for (int k = 0; k < count; ++k) {
      play.Step();
      ASSERT_FALSE(HasFatalFailure());
    }
    end[i] = play.q();
  }
  std::array<double, 4> change{};
  for (size_t i = 0; i < change.size(); ++i) {
    change[i] = (end[i + 1] - end[i]).norm();
    if (i > 0) {
      EXPECT_NEAR(std::log2(change[i - 1] / change[i]), 1.0, 0.2) << i;
    }
  }
}

struct JamCase {
  double degrees, least_friction;
};

// A rod that is dragged with its rear end first jams from friction (1 + 3 cos^2 f) / (3 sin f cos
// f), least 4/3 at atan 2: then the force that friction adds pushes the end down harder than the
// load lifts it, and sliding on is no longer possible. The paradox is P. Painleve's; reviews: D. E.
// Stewart, SIAM Review 42 (2000) 3-39; A. R. Champneys and P. L. Varkonyi, IMA J. Appl. Math. 81
// (2016) 538-588. Thresholds computed apart from this program.
class JammingRodTest : public ::testing::TestWithParam<JamCase> {};

TEST_P(JammingRodTest, SlidesOnBelowTheThresholdAndJamsAbove) {
  const double angle = GetParam().degrees * kDegree;
  const RobotModel model = *RobotModel::Create(Rod(), test::MakeSurface(1.0), Scale());
  FootProblem problem;
  problem.mobility = Mobility(model, RodPosture(angle), 0);
  // The end slides fast to the rear and comes down by 1.
  problem.free = Vector3d(-1e6, 0.0, -1.0);
  const double c = std::cos(angle), s = std::sin(angle);
  for (const double ratio : {0.5, 0.9, 0.999}) {
    problem.friction = ratio * GetParam().least_friction;
    FootState state;
    const Vector3d force = SolveFoot(problem, &state);
    EXPECT_EQ(state, FootState::kSlide) << ratio;
    const double load = 1.0 / (1.0 + 3.0 * c * c - 3.0 * problem.friction * s * c);
    EXPECT_NEAR(force[2] / load, 1.0, 1e-9) << ratio;
  }
  for (const double ratio : {1.001, 1.1}) {
    problem.friction = ratio * GetParam().least_friction;
    FootState state;
    const Vector3d force = SolveFoot(problem, &state);
    EXPECT_EQ(state, FootState::kStick) << ratio;
    EXPECT_LT(FootResidual(problem, force, problem.free + problem.mobility * force), 1e-6);
  }
}

TEST_P(JammingRodTest, IsPlayedThroughTheJamWithoutGainOfEnergy) {
  constexpr double kStep = 1e-4;
  const double friction = 1.1 * GetParam().least_friction;
  Play play(Rod(), friction, 0.0, kStep, StepTolerance::kContact);
  VectorXd v = VectorXd::Zero(6);
  v[0] = -1.0;
  play.Start(RodPosture(GetParam().degrees * kDegree), v);
  const double start = play.model().Energy(play.q(), play.v());
  double last = start;
  for (int i = 0; i < 500; ++i) {
    play.Step();
    if (HasFatalFailure()) {
      return;
    }
    // The foot's own displacement jams at once.
    if (i == 0) {
      EXPECT_LT(play.report().foot_motion.col(0).norm(), 1e-6 * kStep + 1e-8);
    }
    const double energy = play.model().Energy(play.q() - 0.5 * kStep * play.v(), play.v());
    ASSERT_LE(energy, last + 1e-6 * start) << i;
    last = energy;
  }
  EXPECT_LT(last, start);
}

INSTANTIATE_TEST_SUITE_P(Angles,
                         JammingRodTest,
                         ::testing::Values(JamCase{30, 2.501851166488379},
                                           JamCase{45, 1.6666666666666667},
                                           JamCase{60, 1.3471506281091266},
                                           JamCase{63.434948822922, 1.3333333333333335},
                                           JamCase{70, 1.4011194521731438},
                                           JamCase{80, 2.125529914150522}));

}  // namespace
}  // namespace gaitshelf::solver
