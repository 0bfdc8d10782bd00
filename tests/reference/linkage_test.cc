// Linkages against textbook mechanisms: four-bar kinematics, small vibration of closed loops and
// the small-length flexural pivot.
#include "solver/mechanism/linkage.h"

#include <array>
#include <cmath>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "gaitshelf/v1/robot.pb.h"

#include "solver/leg/linkage_functions.h"
#include "solver/mechanism/closure.h"
#include "solver/robot/leg_linkage.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;
using test::IsOk;

Vector3d Polar(double length, double angle_rad) {
  return {length * std::cos(angle_rad), length * std::sin(angle_rad), 0.0};
}

LinkageLink Rod(int parent, const Vector3d& from, const Vector3d& to, double mass) {
  LinkageLink link;
  link.parent = parent;
  link.point = from;
  link.mass = mass;
  link.center = 0.5 * (from + to);
  const Vector3d along = to - from;
  link.inertia =
      mass / 12.0 * (along.squaredNorm() * Eigen::Matrix3d::Identity() - along * along.transpose());
  return link;
}

// Crank, coupler and rocker with the crank's angle as first coordinate; a massless arm elsewhere is
// the second, which legs need.
Linkage FourBar(double crank,
                double rocker,
                double ground,
                double crank_rad,
                double rocker_rad,
                const Vector3d& masses) {
  const Vector3d a = Polar(crank, crank_rad);
  const Vector3d pivot(ground, 0.0, 0.0);
  const Vector3d b = pivot + Polar(rocker, rocker_rad);
  Linkage linkage;
  linkage.links = {Rod(kBodyLink, Vector3d::Zero(), a, masses[0]),
                   Rod(0, a, b, masses[1]),
                   Rod(kBodyLink, pivot, b, masses[2]),
                   Rod(kBodyLink, Vector3d::UnitY(), Vector3d::Zero(), 0.0)};
  LoopHinge hinge;
  hinge.a = 1;
  hinge.b = 2;
  hinge.point = b;
  linkage.loops = {hinge};
  linkage.independent = {0, 3};
  return linkage;
}

// Freudenstein's equation, K1 cos t4 - K2 cos t2 + K3 = cos(t2 - t4) (F. Freudenstein, 1955; A.
// Ghosal, "The Freudenstein equation", Resonance, August 2010). The angles below solve it for crank
// 40, coupler 120, rocker 80 and ground 100, open assembly, with rates for a crank rate of 1.
TEST(FourBarTest, AnglesAndRatesAreThoseOfFreudensteinsEquation) {
  struct Row {
    double crank_deg, coupler_rad, rocker_rad, coupler_rate, rocker_rate;
  };
  constexpr Row kStart = {
      60, 0.3207220116342566, 1.1334775730029172, -0.039555158026317296, 0.4573488369736358};
  const Linkage linkage =
      FourBar(40.0, 80.0, 100.0, M_PI / 3.0, kStart.rocker_rad, Vector3d::Ones());
  const LoopClosure closure(&linkage);
  ClosedPosture rest;
  ASSERT_THAT(closure.Start(&rest), IsOk());
  for (const Row& row : {
           kStart,
           Row{20,
               0.4475818462734704,
               0.9617436474418355,
               -0.3897615405716186,
               -0.09999560539562968},
           Row{100,
               0.34318069811262397,
               1.4950141359584395,
               0.09038722542542073,
               0.5395732889880586},
           Row{140, 0.4405743666531161, 1.8506988001140794, 0.18864780835648004, 0.459970612515533},
           Row{180, 0.6068849106766954, 2.1151404756751004, 0.2857142857142856, 0.2857142857142857},
       }) {
    ClosedPosture at = rest;
    const double turn = (row.crank_deg - 60.0) * M_PI / 180.0;
    ASSERT_THAT(closure.Walk(Vector2d(turn, 0.0), 20, &at), IsOk());
    EXPECT_NEAR(at.angles[1] + turn, row.coupler_rad - kStart.coupler_rad, 1e-9) << row.crank_deg;
    EXPECT_NEAR(at.angles[2], row.rocker_rad - kStart.rocker_rad, 1e-9) << row.crank_deg;
    EXPECT_NEAR(at.rates(1, 0) + 1.0, row.coupler_rate, 1e-9);
    EXPECT_NEAR(at.rates(2, 0), row.rocker_rate, 1e-9);
  }
}

// x = r cos t + sqrt(l^2 - r^2 sin^2 t) and its derivative. There are hinges only, so the slider
// runs at the end of a rocker of length R, whose circle leaves the line by y^2 / (2 R): an error of
// order 1 / R, which two lengths tell apart from any other.
TEST(SliderCrankTest, IsTheLimitOfALongRocker) {
  constexpr double kCrank = 0.05, kRod = 0.2, kStart_rad = M_PI / 6.0;
  const auto slider = [](double angle) {
    const double side = kCrank * std::sin(angle);
    return kCrank * std::cos(angle) + std::sqrt(kRod * kRod - side * side);
  };
  const auto rate = [&](double angle) {
    const double side = kCrank * std::sin(angle);
    return -side - side * kCrank * std::cos(angle) / std::sqrt(kRod * kRod - side * side);
  };
  ASSERT_NEAR(slider(M_PI / 2.0), 0.19364916731037085, 1e-15);  // computed apart from this program
  ASSERT_NEAR(rate(M_PI / 3.0), -0.04884542972138122, 1e-15);
  for (const double degrees : {60.0, 90.0, 120.0, 150.0}) {
    const double angle = degrees * M_PI / 180.0;
    std::array<Vector2d, 2> found;
    for (size_t i = 0; i < 2; ++i) {
      const double length = i == 0 ? 1e4 : 2e4;
      const Vector3d pin = Polar(kCrank, kStart_rad);
      const Vector3d block(slider(kStart_rad), 0.0, 0.0);
      const Vector3d pivot = block - Vector3d(0.0, length, 0.0);
      Linkage linkage;
      linkage.links = {Rod(kBodyLink, Vector3d::Zero(), pin, 1.0),
                       Rod(0, pin, block, 1.0),
                       Rod(kBodyLink, pivot, block, 1.0),
                       Rod(kBodyLink, Vector3d::UnitY(), Vector3d::Zero(), 0.0)};
      LoopHinge hinge;
      hinge.a = 1;
      hinge.b = 2;
      hinge.point = block;
      linkage.loops = {hinge};
      linkage.independent = {0, 3};
      const LoopClosure closure(&linkage);
      ClosedPosture at;
      ASSERT_THAT(closure.Start(&at), IsOk());
      ASSERT_THAT(closure.Walk(Vector2d(angle - kStart_rad, 0.0), 20, &at), IsOk());
      Eigen::Matrix3Xd jacobian;
      PointJacobian(linkage, at.pose, 1, block, &jacobian);
      found[i] = {at.pose.Place(1, block)[0], (jacobian * at.rates)(0, 0)};
    }
    const Vector2d limit = 2.0 * found[1] - found[0];
    EXPECT_NEAR(limit[0], slider(angle), 1e-9) << degrees;
    EXPECT_NEAR(limit[1], rate(angle), 1e-9) << degrees;
  }
}

// Angular frequency at rest, from the curvature of the potential along the closed loop.
double Frequency(const Linkage& linkage) {
  const LoopClosure closure(&linkage);
  ClosedPosture rest;
  EXPECT_THAT(closure.Start(&rest), IsOk());
  const auto potential = [&](double turn) {
    ClosedPosture at = rest;
    EXPECT_THAT(closure.Step(Vector2d(turn, 0.0), &at), IsOk());
    return LinkageFunctions(linkage, at, Vector2d::Ones())[LegFunction::kPotential];
  };
  const auto curvature = [&](double turn) {
    return (potential(turn) + potential(-turn)) / (turn * turn);
  };
  // Two steps, so that the error falls with the fourth power of the step.
  const double stiffness = (4.0 * curvature(0.005) - curvature(0.01)) / 3.0;
  const double inertia = LinkageFunctions(linkage, rest, Vector2d::Ones())[LegFunction::kRateRate];
  return std::sqrt(stiffness / inertia);
}

void AddSprings(double stiffness, Linkage* linkage) {
  for (size_t i = 0; i < 3; ++i) {
    linkage->links[i].stiffness = stiffness;
  }
  linkage->loops[0].stiffness = stiffness;
}

// w^2 = 4 k / (2 m_r a^2 / 3 + m_c a^2): two cranks that turn, a coupler that only shifts, four
// springs (worked by hand). 4 mm, 8 mg, 20 mg, 20 uN m/rad.
TEST(LoopVibrationTest, ParallelogramIsAsWorkedByHand) {
  Linkage linkage = FourBar(4e-3, 4e-3, 10e-3, M_PI / 2.0, M_PI / 2.0, Vector3d(8e-6, 20e-6, 8e-6));
  AddSprings(20e-6, &linkage);
  EXPECT_NEAR(Frequency(linkage), 444.2616583, 444.2616583e-6);
}

// Crank 4, coupler 10, rocker 5, ground 9 mm, slender rods of 2 g/m, 20 uN m/rad in all four
// hinges, at rest with the crank at 60 degrees. 381.02853 rad/s was computed apart from this code,
// by projecting mass and stiffness on the null space of the loop's equations (the method is
// surveyed by Gonzalez, Masarati, Cuadrado and Naya, ASME J. Comput. Nonlinear Dyn. 12, 2017).
TEST(LoopVibrationTest, GeneralFourBarIsAsProjectedOnTheNullSpace) {
  // The rocker's angle closes the loop: |A - D - c e(t4)| = b, the greater y of two.
  const Vector3d a = Polar(4e-3, M_PI / 3.0);
  const Vector3d to_a = a - Vector3d(9e-3, 0.0, 0.0);
  const double span = to_a.norm();
  const double opening = std::acos((span * span + 25e-6 - 100e-6) / (2.0 * span * 5e-3));
  const double rocker_rad = std::atan2(to_a[1], to_a[0]) - opening;
  Linkage linkage = FourBar(4e-3, 5e-3, 9e-3, M_PI / 3.0, rocker_rad, Vector3d(8e-6, 20e-6, 10e-6));
  AddSprings(20e-6, &linkage);
  EXPECT_NEAR(Frequency(linkage), 381.02853, 381.0e-6);
}

// K = E I / l with I = w t^3 / 12 (L. L. Howell and A. Midha, ASME J. Mech. Des. 116, 1994): 2.5
// GPa, 2 mm, 25.4 um, 300 um.
TEST(FlexurePivotTest, FilmStiffnessIsModulusTimesSecondMomentOverLength) {
  v1::FlexureBending bending;
  bending.mutable_film()->set_modulus_pa(2.5e9);
  bending.mutable_film()->set_width_m(2e-3);
  bending.mutable_film()->set_thickness_m(25.4e-6);
  bending.mutable_film()->set_length_m(300e-6);
  EXPECT_NEAR(FlexureStiffness(bending), 2.27598e-5, 1e-10);
}

}  // namespace
}  // namespace gaitshelf::solver
