#include "solver/base/planar_motion.h"

#include <cmath>

#include <gtest/gtest.h>

#include "solver/base/constants.h"

namespace gaitshelf::solver {
namespace {

// Round-off of a few operations on numbers of order one.
constexpr double kRoundOff = 1e-14;

void ExpectNear(const PlanarPose& a, const PlanarPose& b, double tolerance) {
  EXPECT_NEAR(a.x, b.x, tolerance);
  EXPECT_NEAR(a.y, b.y, tolerance);
  EXPECT_NEAR(a.heading, b.heading, tolerance);
}

// A quarter of a circle of radius 2 is pi long and leads from (0, 0) to (2, 2).
TEST(PlanarMotionTest, AQuarterCircleLeadsToItsEnd) {
  ExpectNear(PlanarMotion{kPi, 0.0, 0.5 * kPi}.End(), {2.0, 2.0, 0.5 * kPi}, kRoundOff);
  // Sidewise along the same circle: the body looks outwards.
  ExpectNear(PlanarMotion{0.0, kPi, 0.5 * kPi}.End(), {-2.0, 2.0, 0.5 * kPi}, kRoundOff);
}

TEST(PlanarMotionTest, AStraightMotionIsAsItIsGiven) {
  ExpectNear(PlanarMotion{0.009, 0.002, 0.0}.End(), {0.009, 0.002, 0.0}, 0.0);
  EXPECT_TRUE((PlanarMotion{1.0, 0.0, 0.0}).is_straight());
  EXPECT_FALSE((PlanarMotion{1.0, 0.1, 0.0}).is_straight());
  EXPECT_FALSE((PlanarMotion{1.0, 0.0, 0.1}).is_straight());
}

TEST(PlanarMotionTest, DoingItTwiceIsTheDoubleMotion) {
  for (const double turn : {0.0, 1e-6, 0.3, -0.8}) {
    const PlanarMotion motion = {1.0, -0.4, turn};
    ExpectNear(motion.End().Then(motion.End()), motion.Times(2.0).End(), kRoundOff);
    ExpectNear(motion.End().Then(motion.Times(-1.0).End()), {}, kRoundOff);
  }
}

TEST(PlanarMotionTest, InverseUndoesAPose) {
  const PlanarPose pose = {0.3, -2.0, 1.1};
  ExpectNear(pose.Then(pose.Inverse()), {}, kRoundOff);
  ExpectNear(pose.Inverse().Then(pose), {}, kRoundOff);
}

TEST(PlanarMotionTest, TheMotionToAPoseEndsThere) {
  for (const double heading : {0.0, 1e-9, 1e-4, 0.5, -2.5}) {
    const PlanarPose end = {0.7, -0.2, heading};
    ExpectNear(MotionTo(end).End(), end, kRoundOff);
  }
}

// The series below the small turn and the closed form above it meet: the greatest jump allowed is
// the first term that the series leaves out, 1e-18.
TEST(PlanarMotionTest, SmallTurnsJoinLargerOnes) {
  const PlanarPose below = PlanarMotion{1.0, 0.0, 0.99999e-4}.End();
  const PlanarPose above = PlanarMotion{1.0, 0.0, 1.00001e-4}.End();
  EXPECT_NEAR(below.x, above.x, 1e-12);
  EXPECT_NEAR(above.y - below.y, 0.5 * 0.00002e-4, 1e-15);
}

TEST(PlanarMotionTest, EndByAdvanceIsTheDerivative) {
  const PlanarMotion motion = {1.2, 0.3, 0.7};
  const double step = 1e-6;
  PlanarMotion more = motion;
  more.advance += step;
  const PlanarPose by_advance = motion.EndByAdvance();
  EXPECT_NEAR((more.End().x - motion.End().x) / step, by_advance.x, 1e-9);
  EXPECT_NEAR((more.End().y - motion.End().y) / step, by_advance.y, 1e-9);
}

TEST(CompareMotionsTest, TellsTheShareFromWhatIsDoneAside) {
  const PlanarMotion wanted = {3.0, 0.0, 0.4};  // with a lever of 10: 3 ahead, 4 of turn
  const MotionMatch half = CompareMotions(wanted, wanted.Times(0.5), 10.0);
  EXPECT_NEAR(half.share, 0.5, kRoundOff);
  EXPECT_NEAR(half.aside, 0.0, kRoundOff);
  const MotionMatch sidestep = CompareMotions(wanted, {3.0, 1.0, 0.4}, 10.0);
  EXPECT_NEAR(sidestep.share, 1.0, kRoundOff);
  EXPECT_NEAR(sidestep.aside, 0.2, kRoundOff);
  EXPECT_EQ(CompareMotions({}, wanted, 10.0).share, 0.0);
}

}  // namespace
}  // namespace gaitshelf::solver
