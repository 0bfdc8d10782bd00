// Pendulums written as linkage legs on a bench, compiled and moved by the free step, against closed
// forms and a reference trajectory.
#include <array>
#include <cmath>

#include <gtest/gtest.h>

#include "solver/leg/robot_model.h"
#include "solver/robot/check.h"
#include "tests/reference/linkage_legs.h"
#include "tests/support/free_step.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;
using Eigen::VectorXd;
using test::LinkMass;

// Positive angles swing forward.
const Vector3d kAxis(0.0, -1.0, 0.0);

RobotModel Build(const v1::Robot& robot) {
  EXPECT_THAT(ToStatus(CheckRobot(robot)), test::IsOk());
  return RobotModel::Create(robot, test::MakeSurface(0.5), Scale()).value();
}

// A point mass of 1 that hangs 1 below its hinge. A leg needs a second coordinate: a thousandth of
// a thousandth of the mass on a stiff arm.
v1::Robot Pendulum() {
  v1::LinkageLeg* leg = nullptr;
  v1::Robot robot = test::MakeBench(&leg);
  test::AddLink(leg, "rod", "body", {0.0, 0.0, 1.0}, kAxis, LinkMass{1.0, Vector3d::Zero()});
  test::AddLink(leg, "arm", "rod", {0.0, 0.0, 0.0}, kAxis, LinkMass{1e-6, {0.1, 0.0, 0.0}})
      ->mutable_bending()
      ->set_stiffness_n_m_per_rad(10.0);
  leg->set_foot_link("arm");
  test::SetVector(leg->mutable_foot_m(), 0.1, 0.0, 0.0);
  test::SetCoordinate(leg->mutable_swing(), "rod", -1.7, 1.7);
  test::SetCoordinate(leg->mutable_lift(), "arm", -0.1, 0.1);
  return robot;
}

// Time from rest at an angle to the lowest point, of the step h.
double QuarterPeriod(const RobotModel& model, double angle_rad, double h) {
  KnotState state = {Vector2d(0.0, angle_rad), VectorXd::Zero(2)};
  MidpointInterval interval;
  interval.Resize(2);
  double before = 0.0;
  int count = 0;
  while (state.position[1] > 0.0 && count < 100000) {
    before = state.position[1];
    EXPECT_THAT(test::StepFreely(model, VectorXd::Zero(2), h, &state, &interval), test::IsOk());
    ++count;
  }
  // The angle is nearly a straight line of time there, its curvature being 0.
  return h * (count - 1 + before / (before - state.position[1]));
}

// T / T0 = 2 / pi K(sin(theta_0 / 2)) with T0 = 2 pi sqrt(l / g): elementary, from memory; figures
// by SciPy (ellipk). The range of an angle in a description ends at 2 rad, hence no 150 degrees.
TEST(PendulumPeriodTest, IsTheEllipticIntegral) {
  const RobotModel model = Build(Pendulum());
  const double small_s = 2.0 * M_PI / std::sqrt(kGravityMPerS2);
  for (const auto& [degrees, ratio] : {std::pair(5.0, 1.000476172485987),
                                       std::pair(30.0, 1.017408797595956),
                                       std::pair(60.0, 1.0731820071493645),
                                       std::pair(90.0, 1.1803405990160962)}) {
    std::array<double, 3> period{};
    for (size_t i = 0; i < 3; ++i) {
      const double h = small_s / (200.0 * std::pow(2.0, i));
      period[i] = 4.0 * QuarterPeriod(model, degrees * M_PI / 180.0, h) / small_s;
    }
    // The arm weighs a millionth of the mass.
    EXPECT_NEAR((4.0 * period[2] - period[1]) / 3.0, ratio, 3e-6) << degrees;
    EXPECT_NEAR((period[0] - period[1]) / (period[1] - period[2]), 4.0, 0.3) << degrees;
  }
}

// Two point masses of 1 on rods of 1, bent by 0.3 rad at rest, where a leg's lift has to raise its
// foot.
constexpr double kBend = 0.3;

v1::Robot DoublePendulum() {
  v1::LinkageLeg* leg = nullptr;
  v1::Robot robot = test::MakeBench(&leg);
  const Vector3d end(std::sin(kBend), 0.0, -std::cos(kBend));
  test::AddLink(leg, "upper", "body", {0.0, 0.0, 1.0}, kAxis, LinkMass{1.0, Vector3d::Zero()});
  test::AddLink(leg, "lower", "upper", {0.0, 0.0, 0.0}, kAxis, LinkMass{1.0, end});
  leg->set_foot_link("lower");
  test::SetVector(leg->mutable_foot_m(), end);
  test::SetCoordinate(leg->mutable_swing(), "upper", -1.1, 1.1);
  test::SetCoordinate(leg->mutable_lift(), "lower", -1.4, 1.0);
  return robot;
}

// Absolute angles from hanging after a time, from (1, 0.5) at rest.
Vector2d PlayDouble(const RobotModel& model, double time_s, int count) {
  // Coordinates are metres at the foot: angle times arm.
  const Vector2d arm(std::sin(kBend), 1.0 + std::cos(kBend));
  KnotState state = {Vector2d((-0.5 - kBend) * arm[0], 1.0 * arm[1]), VectorXd::Zero(2)};
  MidpointInterval interval;
  interval.Resize(2);
  for (int i = 0; i < count; ++i) {
    EXPECT_THAT(test::StepFreely(model, VectorXd::Zero(2), time_s / count, &state, &interval),
                test::IsOk());
  }
  const double upper = state.position[1] / arm[1];
  return {upper, upper + kBend + state.position[0] / arm[0]};
}

// Recomputed by a Taylor series with 30 digits and by SciPy's DOP853, which agree to 1e-13.
TEST(DescribedDoublePendulumTest, TendsToTheReferenceWithOrderTwo) {
  const RobotModel model = Build(DoublePendulum());
  struct Row {
    double time_s;
    Vector2d angles;
  };
  for (const Row& row : {Row{0.5, {0.04122573876625699, 0.7058371997736363}},
                         Row{1.0, {-0.2586573434508034, -1.005049531930311}},
                         Row{2.0, {-0.2052591672464699, 0.0521971908879538}}}) {
    std::array<Vector2d, 3> angles;
    std::array<double, 3> error{};
    for (size_t i = 0; i < 3; ++i) {
      angles[i] = PlayDouble(model, row.time_s, static_cast<int>(row.time_s * 200) << i);
      error[i] = (angles[i] - row.angles).norm();
    }
    EXPECT_NEAR(std::log2(error[0] / error[1]), 2.0, 0.01) << row.time_s;
    EXPECT_NEAR(std::log2(error[1] / error[2]), 2.0, 0.01) << row.time_s;
    // Errors of order 2 and 3 cancel; what stays is of order 4, and the fit of the leg.
    EXPECT_LT(((4.0 * angles[2] - angles[1]) / 3.0 - row.angles).norm(), 1e-8) << row.time_s;
  }
}

}  // namespace
}  // namespace gaitshelf::solver
