// Linkages against textbook mechanisms: four-bar kinematics, small vibration of closed loops and
// the small-length flexural pivot.
#include "solver/mechanism/linkage.h"

#include <array>
#include <cmath>
#include <fstream>
#include <map>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "gaitshelf/v1/robot.pb.h"

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_split.h"
#include "solver/leg/linkage_functions.h"
#include "solver/mechanism/closure.h"
#include "solver/robot/leg_linkage.h"
#include "tests/support/paths.h"
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

struct FourBarRow {
  std::string name, assembly;  // of which linkage, and which of its two assemblies
  double crank, coupler, rocker, ground, crank_deg;
  double coupler_rad, rocker_rad, coupler_rate, rocker_rate, coupler_acceleration,
      rocker_acceleration;
};

std::vector<FourBarRow> ReadFourBars() {
  std::ifstream file(test::SourcePath("tests/reference/data/four_bar.csv"));
  std::vector<FourBarRow> rows;
  for (std::string line; std::getline(file, line);) {
    const std::vector<std::string> cells = absl::StrSplit(line, ',');
    double crank = 0.0;
    if (cells.size() != 13 || !absl::SimpleAtod(cells[1], &crank)) {
      continue;  // comments and the head
    }
    const auto number = [&cells](size_t i) { return std::stod(cells[i]); };
    rows.push_back({cells[0],
                    cells[6],
                    crank,
                    number(2),
                    number(3),
                    number(4),
                    number(5),
                    number(7),
                    number(8),
                    number(9),
                    number(10),
                    number(11),
                    number(12)});
  }
  return rows;
}

// Follows one assembly of a linkage from its first row through all others.
void ExpectFollows(const std::vector<FourBarRow>& rows) {
  const FourBarRow& start = rows.front();
  const Linkage linkage = FourBar(start.crank,
                                  start.rocker,
                                  start.ground,
                                  start.crank_deg * M_PI / 180.0,
                                  start.rocker_rad,
                                  Vector3d::Ones());
  const LoopClosure closure(&linkage);
  ClosedPosture at;
  ASSERT_THAT(closure.Start(&at), IsOk());
  const auto turns_apart = [](double angle) { return std::remainder(angle, 2.0 * M_PI); };
  for (const FourBarRow& row : rows) {
    SCOPED_TRACE(absl::StrCat(row.name, " ", row.assembly, " ", row.crank_deg));
    const double turn = (row.crank_deg - start.crank_deg) * M_PI / 180.0;
    ASSERT_THAT(closure.Walk(Vector2d(turn, 0.0), 20, &at), IsOk());
    // The coupler's angle is counted from the crank.
    EXPECT_NEAR(turns_apart(at.angles[1] + turn - (row.coupler_rad - start.coupler_rad)), 0, 1e-9);
    EXPECT_NEAR(turns_apart(at.angles[2] - (row.rocker_rad - start.rocker_rad)), 0.0, 1e-9);
    EXPECT_NEAR(at.rates(1, 0) + 1.0, row.coupler_rate, 1e-9);
    EXPECT_NEAR(at.rates(2, 0), row.rocker_rate, 1e-9);
    constexpr double kDifference = 1e-4;  // leaves about 1e-8 of the acceleration
    ClosedPosture above = at, below = at;
    ASSERT_THAT(closure.Step(Vector2d(turn + kDifference, 0.0), &above), IsOk());
    ASSERT_THAT(closure.Step(Vector2d(turn - kDifference, 0.0), &below), IsOk());
    const Eigen::VectorXd acceleration =
        (above.rates.col(0) - below.rates.col(0)) / (2.0 * kDifference);
    EXPECT_NEAR(acceleration[1], row.coupler_acceleration, 1e-6);
    EXPECT_NEAR(acceleration[2], row.rocker_acceleration, 1e-6);
  }
}

// Freudenstein's equation, K1 cos t4 - K2 cos t2 + K3 = cos(t2 - t4) (F. Freudenstein, 1955; A.
// Ghosal, "The Freudenstein equation", Resonance, August 2010). The table solves it, and its first
// two derivatives, for a crank-rocker, a double crank and a leg's four-bar, each in both
// assemblies.
TEST(FourBarTest, AnglesRatesAndAccelerationsAreThoseOfFreudensteinsEquation) {
  std::map<std::string, std::vector<FourBarRow>> assemblies;
  for (const FourBarRow& row : ReadFourBars()) {
    assemblies[row.name + row.assembly].push_back(row);
  }
  ASSERT_EQ(assemblies.size(), 6u);
  for (const auto& [name, rows] : assemblies) {
    ASSERT_EQ(rows.size(), 7u) << name;
    ExpectFollows(rows);
  }
}

// A parallelogram folds flat at 180 degrees, where its two assemblies meet and the crank no longer
// says where the rocker goes (Grashof's case s + l = p + q; elementary, from memory). The closure
// must see it coming and not walk through.
TEST(FourBarTest, ChangePointIsNotCrossed) {
  const Linkage linkage = FourBar(50.0, 50.0, 120.0, M_PI / 3.0, M_PI / 3.0, Vector3d::Ones());
  const LoopClosure closure(&linkage);
  ClosedPosture at;
  ASSERT_THAT(closure.Start(&at), IsOk());
  const double regular = at.regularity;
  ASSERT_THAT(closure.Walk(Vector2d(119.0 * M_PI / 180.0, 0.0), 40, &at), IsOk());
  EXPECT_NEAR(at.angles[2], 119.0 * M_PI / 180.0, 1e-9) << "still a parallelogram";
  EXPECT_LT(at.regularity, 0.05 * regular);
  EXPECT_EQ(closure.Walk(Vector2d(140.0 * M_PI / 180.0, 0.0), 40, &at).code(),
            absl::StatusCode::kOutOfRange);
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
