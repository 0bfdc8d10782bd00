#include "solver/mechanism/linkage_dynamics.h"

#include <cmath>

#include <Eigen/Geometry>
#include <gtest/gtest.h>

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::Matrix3d;
using Eigen::Matrix3Xd;
using Eigen::Vector3d;
using Eigen::VectorXd;

Matrix3d Spread(double x, double y, double z, double xy) {
  return (Matrix3d() << x, xy, 0.0, xy, y, 0.1 * xy, 0.0, 0.1 * xy, z).finished();
}

// A yoke that carries a four-bar with hinges askew of each other, springs, damping and two pins.
Linkage Sample() {
  Linkage linkage;
  linkage.links.resize(4);
  linkage.links[0] = {.parent = kBodyLink,
                      .point = Vector3d(0.5, -0.2, 0.1),
                      .axis = Vector3d(0.2, 0.1, 1.0).normalized(),
                      .stiffness = 3.0,
                      .damping = 0.3,
                      .mass = 1.5,
                      .center = Vector3d(0.8, 0.3, 0.2),
                      .inertia = Spread(0.3, 0.4, 0.5, 0.05)};
  linkage.links[1] = {.parent = 0,
                      .point = Vector3d(1, 0, 0),
                      .axis = Vector3d::UnitX(),
                      .stiffness = 1.0,
                      .damping = 0.1,
                      .mass = 0.7,
                      .center = Vector3d(1.0, 0.1, 1.0),
                      .inertia = Spread(0.2, 0.1, 0.2, 0.02)};
  linkage.links[2] = {.parent = 1,
                      .point = Vector3d(1, 0, 2),
                      .axis = -Vector3d::UnitX(),
                      .stiffness = 2.0,
                      .damping = 0.2,
                      .mass = 0.4,
                      .center = Vector3d(1.0, 1.5, 2.2),
                      .inertia = Spread(0.1, 0.1, 0.05, 0.01)};
  linkage.links[3] = {.parent = 0,
                      .point = Vector3d(1, 3, 0),
                      .axis = Vector3d::UnitX(),
                      .stiffness = 0.5,
                      .damping = 0.4,
                      .mass = 0.9,
                      .center = Vector3d(0.9, 3.1, 1.2),
                      .inertia = Spread(0.3, 0.2, 0.2, -0.03)};
  LoopHinge loop;
  loop.a = 2;
  loop.b = 3;
  loop.point = Vector3d(1, 3, 2.5);
  loop.axis = Vector3d::UnitX();
  loop.stiffness = 0.8;
  loop.damping = 0.6;
  linkage.loops = {loop};
  LinkagePin pin;
  pin.is_present = true;
  pin.link = 2;
  pin.point = Vector3d(1.1, 0.7, 2.1);
  pin.direction = Vector3d(0.3, 0.2, 1.0).normalized();
  pin.stiffness = 4.0;
  pin.mass = 0.25;
  linkage.pins = {pin, LinkagePin()};
  return linkage;
}

const VectorXd kAngles = (VectorXd(4) << 0.7, 0.2, -0.3, 0.4).finished();
const VectorXd kRates = (VectorXd(4) << 1.3, -0.8, 0.6, 2.1).finished();

BodyMotion SampleMotion() {
  return {.angular = Vector3d(0.4, -0.7, 0.9),
          .linear = Vector3d(-0.3, 0.5, 0.8),
          .gravity = Vector3d(0.2, -1.0, -9.0)};
}

// L = T - V link by link from the velocities of their centres, another way than the recursion.
double LagrangianOf(const Linkage& linkage,
                    const VectorXd& angles,
                    const VectorXd& rates,
                    const BodyMotion& motion) {
  LinkagePose pose;
  EvaluatePose(linkage, angles, &pose);
  double value = 0.0;
  Matrix3Xd jacobian;
  for (int i = 0; i < static_cast<int>(linkage.links.size()); ++i) {
    const LinkageLink& link = linkage.links[static_cast<size_t>(i)];
    const Vector3d center = pose.Place(i, link.center);
    PointJacobian(linkage, pose, i, link.center, &jacobian);
    const Vector3d velocity = motion.linear + motion.angular.cross(center) + jacobian * rates;
    TurnJacobian(linkage, pose, i, &jacobian);
    const Vector3d turn = pose.RotationOf(i).transpose() * (motion.angular + jacobian * rates);
    value += 0.5 * link.mass * velocity.squaredNorm() + 0.5 * turn.dot(link.inertia * turn) +
             link.mass * motion.gravity.dot(center) - 0.5 * link.stiffness * angles[i] * angles[i];
  }
  // The closing hinge: angles of its two links about x, which the yoke carries.
  const double closing = angles[3] - (angles[1] - angles[2]);
  value -= 0.5 * linkage.loops[0].stiffness * closing * closing;
  const LinkagePin& pin = linkage.pins[0];
  PointJacobian(linkage, pose, pin.link, pin.point, &jacobian);
  const double speed = pin.direction.dot(jacobian * rates);
  const double travel = pin.direction.dot(pose.Place(pin.link, pin.point) - pin.point);
  return value + 0.5 * pin.mass * speed * speed - 0.5 * pin.stiffness * travel * travel;
}

class LinkageDynamicsTest : public ::testing::Test {
 protected:
  LinkageTerms Terms(const VectorXd& angles, const VectorXd& rates, const BodyMotion& motion) {
    LinkagePose pose;
    EvaluatePose(linkage_, angles, &pose);
    LinkageTerms terms;
    dynamics_.EvaluateTerms(pose, angles, rates, motion, &terms);
    return terms;
  }
  LinkageInertia Inertia() {
    LinkagePose pose;
    EvaluatePose(linkage_, kAngles, &pose);
    LinkageInertia inertia;
    dynamics_.EvaluateInertia(pose, &inertia);
    return inertia;
  }

  Linkage linkage_ = Sample();
  LinkageDynamics dynamics_{linkage_};
  static constexpr double kStep = 1e-5;
};

TEST_F(LinkageDynamicsTest, MomentaAreDerivativesOfTheLagrangian) {
  const LinkageTerms terms = Terms(kAngles, kRates, SampleMotion());
  for (Index i = 0; i < 4; ++i) {
    const VectorXd step = kStep * VectorXd::Unit(4, i);
    const double slope = (LagrangianOf(linkage_, kAngles, kRates + step, SampleMotion()) -
                          LagrangianOf(linkage_, kAngles, kRates - step, SampleMotion())) /
                         (2.0 * kStep);
    EXPECT_NEAR(terms.momentum[i], slope, 1e-8) << i;
  }
  for (Index i = 0; i < 3; ++i) {
    BodyMotion above = SampleMotion(), below = SampleMotion();
    above.angular[i] += kStep;
    below.angular[i] -= kStep;
    EXPECT_NEAR(terms.angular_momentum[i],
                (LagrangianOf(linkage_, kAngles, kRates, above) -
                 LagrangianOf(linkage_, kAngles, kRates, below)) /
                    (2.0 * kStep),
                1e-8);
    above = below = SampleMotion();
    above.linear[i] += kStep;
    below.linear[i] -= kStep;
    EXPECT_NEAR(terms.linear_momentum[i],
                (LagrangianOf(linkage_, kAngles, kRates, above) -
                 LagrangianOf(linkage_, kAngles, kRates, below)) /
                    (2.0 * kStep),
                1e-8);
    above = below = SampleMotion();
    above.gravity[i] += kStep;
    below.gravity[i] -= kStep;
    EXPECT_NEAR(terms.first_moment[i],
                (LagrangianOf(linkage_, kAngles, kRates, above) -
                 LagrangianOf(linkage_, kAngles, kRates, below)) /
                    (2.0 * kStep),
                1e-8);
  }
}

TEST_F(LinkageDynamicsTest, ForcesAreDerivativesOfTheLagrangianLessDamping) {
  const LinkageTerms terms = Terms(kAngles, kRates, SampleMotion());
  const double closing_rate = kRates[3] - (kRates[1] - kRates[2]);
  const VectorXd closing = (VectorXd(4) << 0.0, -1.0, 1.0, 1.0).finished();
  for (Index i = 0; i < 4; ++i) {
    const VectorXd step = kStep * VectorXd::Unit(4, i);
    const double slope = (LagrangianOf(linkage_, kAngles + step, kRates, SampleMotion()) -
                          LagrangianOf(linkage_, kAngles - step, kRates, SampleMotion())) /
                         (2.0 * kStep);
    const double damping = linkage_.links[static_cast<size_t>(i)].damping * kRates[i] +
                           linkage_.loops[0].damping * closing_rate * closing[i];
    EXPECT_NEAR(terms.force[i], slope - damping, 1e-7) << i;
  }
}

TEST_F(LinkageDynamicsTest, InertiaIsTheSlopeOfTheMomenta) {
  const LinkageInertia inertia = Inertia();
  for (Index i = 0; i < 4; ++i) {
    // Momenta are linear in the rates.
    const LinkageTerms terms = Terms(kAngles, VectorXd::Unit(4, i), BodyMotion());
    EXPECT_LT((terms.momentum - inertia.mass.col(i)).norm(), 1e-13);
    EXPECT_LT((terms.angular_momentum - inertia.coupling.col(i).head<3>()).norm(), 1e-13);
    EXPECT_LT((terms.linear_momentum - inertia.coupling.col(i).tail<3>()).norm(), 1e-13);
  }
  for (Index i = 0; i < 3; ++i) {
    BodyMotion motion;
    motion.angular[i] = 1.0;
    const LinkageTerms terms = Terms(kAngles, VectorXd::Zero(4), motion);
    EXPECT_LT((terms.angular_momentum - inertia.inertia.col(i)).norm(), 1e-13);
    EXPECT_LT((terms.first_moment - inertia.first_moment).norm(), 1e-13);
  }
}

TEST_F(LinkageDynamicsTest, StiffnessIsTheSlopeOfTheSpringsAtRest) {
  // At rest no spring pulls, so the curvature of the pins' paths does not count.
  LinkagePose pose;
  EvaluatePose(linkage_, VectorXd::Zero(4), &pose);
  LinkageInertia inertia;
  dynamics_.EvaluateInertia(pose, &inertia);
  for (Index i = 0; i < 4; ++i) {
    const VectorXd step = kStep * VectorXd::Unit(4, i);
    const VectorXd slope = (Terms(step, VectorXd::Zero(4), BodyMotion()).force -
                            Terms(-step, VectorXd::Zero(4), BodyMotion()).force) /
                           (2.0 * kStep);
    EXPECT_LT((slope + inertia.stiffness.col(i)).norm(), 1e-8);
  }
}

TEST_F(LinkageDynamicsTest, SpringEnergyIsWhatTheLagrangianLacksAtRest) {
  LinkagePose pose;
  EvaluatePose(linkage_, kAngles, &pose);
  EXPECT_NEAR(dynamics_.SpringEnergy(pose, kAngles),
              -LagrangianOf(linkage_, kAngles, VectorXd::Zero(4), BodyMotion()),
              1e-13);
  EXPECT_DOUBLE_EQ(dynamics_.mass(), 3.5);
}

// The double pendulum in relative angles, as in any text on mechanics: masses m1 and m2 at the ends
// of rods of lengths a and b,
//   dT/dangle_2 = -m2 a b sin(angle_2) rate_1 (rate_1 + rate_2)
// and the weights' moments about both hinges.
TEST(LinkageDynamicsPendulumTest, IsAsInTheTextbook) {
  constexpr double m1 = 3.0, m2 = 0.5, a = 2.0, b = 1.0, g = 9.0;
  Linkage linkage;
  linkage.links.resize(2);
  linkage.links[0].mass = m1;
  linkage.links[0].center = Vector3d(a, 0.0, 0.0);
  linkage.links[1].parent = 0;
  linkage.links[1].point = Vector3d(a, 0.0, 0.0);
  linkage.links[1].mass = m2;
  linkage.links[1].center = Vector3d(a + b, 0.0, 0.0);
  const VectorXd angles = Eigen::Vector2d(0.4, 0.9), rates = Eigen::Vector2d(1.5, -0.7);
  LinkagePose pose;
  EvaluatePose(linkage, angles, &pose);
  LinkageTerms terms;
  LinkageDynamics(linkage).EvaluateTerms(
      pose, angles, rates, {.gravity = Vector3d(0.0, -g, 0.0)}, &terms);
  const double c = std::cos(0.9), second = rates[0] + rates[1];
  EXPECT_NEAR(
      terms.momentum[0],
      (m1 * a * a + m2 * (a * a + a * b * c)) * rates[0] + m2 * (b * b + a * b * c) * second,
      1e-12);
  EXPECT_NEAR(terms.momentum[1], m2 * (b * b * second + a * b * c * rates[0]), 1e-12);
  EXPECT_NEAR(terms.force[1],
              -m2 * a * b * std::sin(0.9) * rates[0] * second - m2 * g * b * std::cos(1.3),
              1e-12);
  EXPECT_NEAR(
      terms.force[0], -(m1 + m2) * g * a * std::cos(0.4) - m2 * g * b * std::cos(1.3), 1e-12);
}

}  // namespace
}  // namespace gaitshelf::solver
