#include "service/playback/body_way.h"

#include <cmath>

#include <gtest/gtest.h>

namespace gaitshelf::service {
namespace {

constexpr double kRoundOff = 1e-12;

TEST(BodyWayTest, AStraightGaitGoesAlongXAndHasItsOwnYAndHeading) {
  BodyWay way;
  way.Start({0.001, 0.0, 0.0});
  way.Move({.advance_m = 0.002}, {5.0, 0.0003, 0.02}, true);
  EXPECT_EQ(way.pose().x, 0.003);
  EXPECT_EQ(way.pose().y, 0.0003);
  EXPECT_EQ(way.pose().heading, 0.02);
}

TEST(BodyWayTest, AStraightGaitAfterATurnGoesAlongTheNewHeading) {
  BodyWay way;
  way.Start({});
  // A quarter of a circle of radius 1 in 90 steps; the gait's own heading starts anew each 30.
  const solver::PlanarMotion step = {std::acos(-1.0) / 180.0, 0.0, std::acos(-1.0) / 180.0};
  for (int i = 1; i <= 90; ++i) {
    const solver::PlanarPose gait = step.Times(i % 30).End();
    way.Move({.advance_m = 0.0, .change = step.End()}, gait, false);
  }
  EXPECT_NEAR(way.pose().x, 1.0, kRoundOff);
  EXPECT_NEAR(way.pose().y, 1.0, kRoundOff);
  way.Move({.advance_m = 0.5}, {}, true);
  EXPECT_NEAR(way.pose().x, 1.0, kRoundOff);
  EXPECT_NEAR(way.pose().y, 1.5, kRoundOff);
}

TEST(BodyWayTest, AStepIsSeenFromTheBody) {
  const BodyStep step = StepBetween({1.0, 1.0, std::acos(0.0)}, {1.0, 1.5, std::acos(0.0)});
  EXPECT_EQ(step.advance_m, 0.0);
  EXPECT_NEAR(step.change.x, 0.5, kRoundOff);
  EXPECT_NEAR(step.change.y, 0.0, kRoundOff);
  EXPECT_NEAR(Mix(step, {}, 0.25).change.x, 0.375, kRoundOff);
  CurvePoint point;
  point.body_position_m = {0.1, 0.2, 0.3};
  point.body_attitude_rad = {0.4, 0.5, 0.6};
  EXPECT_EQ(PlaneOf(point).y, 0.2);
  EXPECT_EQ(PlaneOf(point).heading, 0.6);
}

}  // namespace
}  // namespace gaitshelf::service
