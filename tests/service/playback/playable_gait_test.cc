#include "service/playback/playable_gait.h"

#include <cmath>
#include <numbers>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/gaits.h"
#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

using test::HasStatus;
using testing::HasSubstr;

TEST(PlayableGaitTest, BoundsHoldAllOfTheCurveClosely) {
  const v1::Robot robot = test::MakeQuadruped();
  for (const v1::Gait& gait : {test::MakeSineGait(robot, {.knot_count = 24, .harmonic = 3}),
                               test::MakeHop(robot, 30, 0.002)}) {
    const PlayableGait playable = MakePlayable(gait, robot).value();
    std::vector<LegBounds> seen(8);
    CurvePoint point;
    for (int i = 0; i <= 5000; ++i) {
      playable.curve.Evaluate(playable.curve.cycle_s() * i / 5000.0, &point);
      for (std::size_t k = 0; k < 8; ++k) {
        const LegBounds& bound = playable.bounds[k];
        EXPECT_GE(point.leg_position_m[k], bound.min_m - 1e-15);
        EXPECT_LE(point.leg_position_m[k], bound.max_m + 1e-15);
        const double rate = std::abs(point.leg_rate_m_per_s[k]);
        EXPECT_LE(rate, bound.greatest_rate_m_per_s * (1.0 + 1e-12));
        seen[k].min_m = std::min(seen[k].min_m, point.leg_position_m[k]);
        seen[k].greatest_rate_m_per_s = std::max(seen[k].greatest_rate_m_per_s, rate);
      }
    }
    for (std::size_t k = 0; k < 8; ++k) {
      // 1e-3: the curve is looked at in steps.
      EXPECT_NEAR(
          seen[k].greatest_rate_m_per_s / playable.bounds[k].greatest_rate_m_per_s, 1, 1e-3);
      EXPECT_NEAR(seen[k].min_m, playable.bounds[k].min_m, 1e-4);
    }
  }
}

TEST(PlayableGaitTest, FindsThePhaseWhereGaitsAreClosest) {
  const v1::Robot robot = test::MakeQuadruped();
  v1::Gait from = test::MakeSineGait(robot, {});
  v1::Gait to = test::MakeSineGait(robot, {.frequency_hz = 3.0});
  // Apart by 1 mm (1 - cos) of the phase less 0.25: nothing there, 2 mm half a cycle later.
  for (int knot = 0; knot < 40; ++knot) {
    const double angle = 2.0 * std::numbers::pi * (knot / 40.0 - 0.25);
    to.set_leg_position_m(8 * knot + 3,
                          from.leg_position_m(8 * knot + 3) + 0.001 * (1.0 - std::cos(angle)));
  }
  EXPECT_NEAR(ClosestPhase(MakePlayable(from, robot).value(), MakePlayable(to, robot).value()),
              0.25,
              1.0 / 64.0);
}

TEST(PlayableGaitTest, RefusesAnotherRobot) {
  EXPECT_THAT(
      MakePlayable(test::MakeSineGait(test::MakeQuadruped(), {}), test::MakeHexapod()).status(),
      HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("4 legs")));
}

}  // namespace
}  // namespace gaitshelf::service
