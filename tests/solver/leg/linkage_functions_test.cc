#include "solver/leg/linkage_functions.h"

#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using F = LegFunction;
using Eigen::Vector2d;
using Eigen::Vector3d;

// Two mass points on massless rods of lengths 2 and 1 along x, hinges about z.
Linkage DoublePendulum() {
  Linkage linkage;
  linkage.links.resize(2);
  linkage.links[0].mass = 3.0;
  linkage.links[0].center = Vector3d(2.0, 0.0, 0.0);
  linkage.links[0].stiffness = 7.0;
  linkage.links[1].parent = 0;
  linkage.links[1].point = Vector3d(2.0, 0.0, 0.0);
  linkage.links[1].mass = 0.5;
  linkage.links[1].center = Vector3d(3.0, 0.0, 0.0);
  linkage.links[1].damping = 0.25;
  linkage.foot_link = 1;
  linkage.foot = Vector3d(3.0, 0.0, 0.0);
  linkage.independent = {0, 1};
  return linkage;
}

// The mass matrix of a double pendulum in relative angles, as in any text on mechanics.
TEST(LinkageFunctionsTest, DoublePendulumIsAsInTheTextbook) {
  const Linkage linkage = DoublePendulum();
  const LoopClosure closure(&linkage);
  ClosedPosture posture;
  ASSERT_THAT(closure.Start(&posture), test::IsOk());
  ASSERT_THAT(closure.Step(Vector2d(0.4, 0.9), &posture), test::IsOk());
  const LegValues v = LinkageFunctions(linkage, posture, Vector2d(1.0, 2.0));
  const double c = std::cos(0.9);
  EXPECT_NEAR(v[F::kRateRate], 3.0 * 4.0 + 0.5 * (4.0 + 1.0 + 4.0 * c), 1e-12);
  EXPECT_NEAR(v[F::kRateRate + 1], 4.0 * 0.5, 1e-12);
  EXPECT_NEAR(v[F::kRateRate + 2], 2.0 * 0.5 * (1.0 + 2.0 * c), 1e-12);
  EXPECT_NEAR(v[F::kPotential], 0.5 * 7.0 * 0.16, 1e-12);
  EXPECT_NEAR(v[F::kDamping + 1], 4.0 * 0.25, 1e-12);
  EXPECT_NEAR(v[F::kFoot], 2.0 * std::cos(0.4) + std::cos(1.3), 1e-12);
  // A turn of the whole is a turn of the first hinge.
  EXPECT_NEAR(v[F::kInertia + 2], v[F::kRateRate], 1e-12);
  EXPECT_NEAR(v[F::kAngularRate + 2], v[F::kRateRate], 1e-12);
}

TEST(FunctionUnitsTest, AreThoseOfTheScale) {
  const LegValues units = FunctionUnits({.length_m = 2.0, .mass_kg = 3.0, .time_s = 0.5});
  EXPECT_DOUBLE_EQ(units[F::kPotential], 48.0);
  EXPECT_DOUBLE_EQ(units[F::kInertia], 12.0);
  EXPECT_DOUBLE_EQ(units[F::kDamping], 6.0);
}

}  // namespace
}  // namespace gaitshelf::solver
