#include "solver/mechanism/closure.h"

#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

// An upright crank of 3, an upright rocker of 2 at a distance, and the coupler between. The
// second coordinate is an arm without a loop.
Linkage LeaningFourBar(double ground) {
  Linkage linkage;
  linkage.links.resize(4);
  linkage.links[1].parent = 0;
  linkage.links[1].point = Vector3d(0, 3, 0);
  linkage.links[2].point = Vector3d(ground, 0, 0);
  LoopHinge loop;
  loop.a = 1;
  loop.b = 2;
  loop.point = Vector3d(ground, 2, 0);
  linkage.loops = {loop};
  linkage.independent = {0, 3};
  return linkage;
}

TEST(LoopClosureTest, KeepsLoopsClosedAndRatesExact) {
  const Linkage linkage = LeaningFourBar(4.0);
  const LoopClosure closure(&linkage);
  ClosedPosture posture;
  ASSERT_THAT(closure.Start(&posture), test::IsOk());
  ASSERT_THAT(closure.Walk(Vector2d(0.3, 0.1), 4, &posture), test::IsOk());
  const LinkagePose& pose = posture.pose;
  const Vector3d& point = linkage.loops[0].point;
  EXPECT_LT((pose.Place(1, point) - pose.Place(2, point)).norm(), 1e-12);
  EXPECT_NEAR(posture.angles[3], 0.1, 1e-15);
  constexpr double kStep = 1e-6;
  ClosedPosture above = posture;
  ClosedPosture below = posture;
  ASSERT_THAT(closure.Step(Vector2d(0.3 + kStep, 0.1), &above), test::IsOk());
  ASSERT_THAT(closure.Step(Vector2d(0.3 - kStep, 0.1), &below), test::IsOk());
  EXPECT_LT(((above.angles - below.angles) / (2.0 * kStep) - posture.rates.col(0)).norm(), 1e-8);
}

// The loop is stretched when the crank's tip is as far from the rocker's pivot as coupler and
// rocker are long together, by the law of cosines.
TEST(FindReachTest, FindsWhereTheLoopIsStretched) {
  const Linkage linkage = LeaningFourBar(4.0);
  const LoopClosure closure(&linkage);
  ClosedPosture rest;
  ASSERT_THAT(closure.Start(&rest), test::IsOk());
  const double longest = std::hypot(4.0, 1.0) + 2.0;
  const double crank_rad = std::acos((9.0 + 16.0 - longest * longest) / 24.0);
  const double way_rad = crank_rad - M_PI / 2.0;  // towards the far side
  const RangeReach reach =
      FindReach(closure, rest, Vector2d(-0.01, -0.1), Vector2d(way_rad / 1.5, 0.1), kMostReach);
  EXPECT_NEAR(reach.ratio, 1.5, 0.051);
  EXPECT_LE(reach.ratio, 1.5);
  EXPECT_EQ(closure.WeakestLoop(reach.last), 0);
  ClosedPosture at = rest;
  EXPECT_EQ(closure.Walk(Vector2d(1.1 * way_rad, 0.0), 50, &at).code(),
            absl::StatusCode::kOutOfRange);
  EXPECT_EQ(at.angles, rest.angles);  // left alone
}

TEST(LoopClosureTest, RefusesDependentEquations) {
  Linkage linkage = LeaningFourBar(4.0);
  // Coupler and rocker in one line hold the crank only one way.
  linkage.loops[0].point = Vector3d(2, 1.5, 0);
  const LoopClosure closure(&linkage);
  ClosedPosture rest;
  EXPECT_EQ(closure.Start(&rest).code(), absl::StatusCode::kFailedPrecondition);
}

}  // namespace
}  // namespace gaitshelf::solver
