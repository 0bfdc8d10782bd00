// Loops out of one plane move although a count of their equations says that they cannot, and the
// linkage of a leg does not know them: its loops are planar. So the check must refuse them, rather
// than close them wrongly.
#include <array>
#include <cmath>

#include <Eigen/Geometry>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "solver/robot/check.h"
#include "tests/reference/linkage_legs.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Vector3d;
using test::LinkMass;
using ::testing::AllOf;
using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::Property;

struct SpatialHinge {
  Vector3d point_m;
  Vector3d axis;
};

// Three links and the body in a ring of four hinges, and a foot on the last link's own hinge.
v1::Robot Ring(const std::array<SpatialHinge, 4>& hinges) {
  v1::LinkageLeg* leg = nullptr;
  v1::Robot robot = test::MakeBench(&leg);
  const auto add = [&](const char* name, const char* parent, const SpatialHinge& hinge) {
    test::AddLink(
        leg, name, parent, hinge.point_m, hinge.axis, LinkMass{1e-3, hinge.point_m, 1e-6});
  };
  add("input", "body", hinges[0]);
  add("coupler", "input", hinges[1]);
  add("output", "body", hinges[3]);
  add("foot-link", "input", {Vector3d(0.0, 0.0, -0.01), Vector3d::UnitY()});
  v1::ClosingFlexure* closing = leg->add_closing_flexures();
  closing->set_name("closing");
  closing->set_link_a("coupler");
  closing->set_link_b("output");
  test::SetVector(closing->mutable_point_m(), hinges[2].point_m);
  test::SetVector(closing->mutable_axis_ratio(), hinges[2].axis);
  closing->mutable_bending()->set_stiffness_n_m_per_rad(0.0);
  leg->set_foot_link("foot-link");
  test::SetVector(leg->mutable_foot_m(), 0.02, 0.0, -0.03);
  test::SetCoordinate(leg->mutable_lift(), "input", -0.1, 0.1);
  test::SetCoordinate(leg->mutable_swing(), "foot-link", -0.1, 0.1);
  return robot;
}

void ExpectRefusedAsNotPlanar(const v1::Robot& robot) {
  EXPECT_THAT(CheckRobot(robot),
              Contains(AllOf(Property(&v1::FieldViolation::field,
                                      HasSubstr("legs[0].linkage.closing_flexures[0].axis_ratio")),
                             Property(&v1::FieldViolation::problem, HasSubstr("planar loops")))));
}

// The ring itself passes when its axes are parallel, so that nothing else is at fault.
TEST(SpatialLoopTest, PlanarRingPasses) {
  const Vector3d y = Vector3d::UnitY();
  const Violations violations = CheckRobot(Ring({SpatialHinge{{0.0, 0.0, 0.0}, y},
                                                 {{0.0, 0.0, 0.02}, y},
                                                 {{0.05, 0.0, 0.03}, y},
                                                 {{0.04, 0.0, 0.0}, y}}));
  EXPECT_TRUE(violations.empty()) << ToStatus(violations);
}

// All axes through one point, 90, 90, 90 and 30 degrees apart: a universal joint, tan(in) tan(out)
// = -cos 30 (elementary, from memory).
TEST(SpatialLoopTest, UniversalJointIsRefused) {
  const auto turned = [](double degrees) {
    return Eigen::AngleAxisd(degrees * M_PI / 180.0, Vector3d::UnitZ()) * Vector3d::UnitY();
  };
  ExpectRefusedAsNotPlanar(Ring({SpatialHinge{{0.0, 0.0, 0.0}, turned(0.0)},
                                 {{0.0, 0.0, 0.0}, turned(90.0)},
                                 {{0.0, 0.0, 0.0}, Vector3d::UnitZ()},
                                 {{0.0, 0.0, 0.0}, turned(30.0)}}));
}

// G. T. Bennett's loop: lengths a, b, a, b and twists with a / sin(alpha) = b / sin(beta) (from
// memory); here folded out flat, alpha 50 degrees, beta 85.
TEST(SpatialLoopTest, BennettsLoopIsRefused) {
  const double alpha = 50.0 * M_PI / 180.0, beta = 85.0 * M_PI / 180.0;
  const double a = 0.02, b = a * std::sin(beta) / std::sin(alpha);
  const auto turned = [](double twist) {
    return Eigen::AngleAxisd(twist, Vector3d::UnitX()) * Vector3d::UnitY();
  };
  ExpectRefusedAsNotPlanar(Ring({SpatialHinge{{0.0, 0.0, 0.0}, turned(0.0)},
                                 {{a, 0.0, 0.0}, turned(alpha)},
                                 {{a + b, 0.0, 0.0}, turned(alpha + beta)},
                                 {{b, 0.0, 0.0}, turned(beta)}}));
}

}  // namespace
}  // namespace gaitshelf::solver
