#include "service/playback/gait_curve.h"

#include <cmath>
#include <limits>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/gaits.h"
#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

using test::HasStatus;
using testing::HasSubstr;

GaitCurve MakeCurve(const v1::Gait& gait) { return GaitCurve::Create(gait).value(); }

TEST(GaitCurveTest, PassesThroughItsKnots) {
  const v1::Gait gait = test::MakeSineGait(test::MakeQuadruped(), {});
  const GaitCurve curve = MakeCurve(gait);
  CurvePoint point;
  for (int knot = 0; knot < gait.knot_count(); ++knot) {
    curve.Evaluate(knot * gait.knot_period_s(), &point);
    for (int i = 0; i < 8; ++i) {
      const auto index = static_cast<std::size_t>(i);
      // 1e-12 m, 1e-8 V: rounding of the time.
      EXPECT_NEAR(point.leg_position_m[index], gait.leg_position_m(knot * 8 + i), 1e-12);
      EXPECT_NEAR(point.voltage_v[index], gait.voltage_v(knot * 8 + i), 1e-8);
    }
    EXPECT_NEAR(point.body_position_m[0], gait.body_position_m(3 * knot), 1e-12);
  }
}

// Cubic Hermite with central differences errs in third order of the knot distance.
TEST(GaitCurveTest, ErrsInThirdOrderOrBetter) {
  double last_error = 0.0;
  for (const int knots : {20, 40, 80}) {
    const GaitCurve curve =
        MakeCurve(test::MakeSineGait(test::MakeQuadruped(), {.knot_count = knots}));
    double error = 0.0;
    CurvePoint point;
    for (int i = 0; i < 1000; ++i) {
      curve.Evaluate(i * 1e-4, &point);
      const double exact = 0.001 * std::sin(2.0 * std::numbers::pi * i * 1e-3);
      error = std::max(error, std::abs(point.leg_position_m[0] - exact));
    }
    if (last_error > 0.0) {
      EXPECT_LT(error, last_error / 7.0);
    }
    last_error = error;
  }
}

TEST(GaitCurveTest, RateIsTheDerivativeOfPosition) {
  const GaitCurve curve = MakeCurve(test::MakeSineGait(test::MakeQuadruped(), {.knot_count = 16}));
  CurvePoint before;
  CurvePoint at;
  CurvePoint after;
  const double step_s = 1e-7;
  for (int i = 0; i < 97; ++i) {
    const double time_s = (i + 0.37) * 1e-3;
    curve.Evaluate(time_s - step_s, &before);
    curve.Evaluate(time_s, &at);
    curve.Evaluate(time_s + step_s, &after);
    for (std::size_t j = 0; j < 8; ++j) {
      // 1e-6 of the greatest rate, 0.063 m/s: a step that holds a knot has a jump of the second
      // derivative.
      EXPECT_NEAR(at.leg_rate_m_per_s[j],
                  (after.leg_position_m[j] - before.leg_position_m[j]) / (2.0 * step_s),
                  1e-6);
    }
  }
}

TEST(GaitCurveTest, GoesOnInBothDirectionsWithTheAdvance) {
  const GaitCurve curve = MakeCurve(test::MakeSineGait(test::MakeQuadruped(), {}));
  EXPECT_DOUBLE_EQ(curve.cycle_s(), 0.1);
  CurvePoint here;
  CurvePoint there;
  for (const double cycles : {-3.0, 1.0, 1000.0}) {
    curve.Evaluate(0.0333, &here);
    curve.Evaluate(0.0333 + cycles * 0.1, &there);
    EXPECT_NEAR(there.body_position_m[0] - here.body_position_m[0], cycles * 0.008, 1e-9);
    EXPECT_NEAR(there.leg_position_m[3], here.leg_position_m[3], 1e-12);
    EXPECT_NEAR(there.phase_ratio, 0.333, 1e-9);
  }
  // No jump where the last knot leads to the first.
  curve.Evaluate(0.1 - 1e-9, &here);
  curve.Evaluate(0.1 + 1e-9, &there);
  EXPECT_NEAR(there.body_position_m[0], here.body_position_m[0], 1e-9);
  EXPECT_NEAR(there.leg_position_m[3], here.leg_position_m[3], 1e-9);
}

TEST(GaitCurveTest, HopHoldsItsEnds) {
  const v1::Gait gait = test::MakeHop(test::MakeQuadruped(), 41, 0.001);
  const GaitCurve curve = MakeCurve(gait);
  EXPECT_DOUBLE_EQ(curve.cycle_s(), 40 * gait.knot_period_s());
  CurvePoint point;
  for (const double time_s : {-1.0, 0.0}) {
    curve.Evaluate(time_s, &point);
    EXPECT_EQ(point.leg_position_m[0], 0.0);
    EXPECT_EQ(point.leg_rate_m_per_s[0], 0.0);
    EXPECT_EQ(point.phase_ratio, 0.0);
  }
  for (const double time_s : {curve.cycle_s(), 5.0}) {
    curve.Evaluate(time_s, &point);
    EXPECT_DOUBLE_EQ(point.leg_position_m[0], 0.001);
    EXPECT_NEAR(point.leg_rate_m_per_s[0], 0.0, 1e-12);
    EXPECT_EQ(point.phase_ratio, 1.0);
  }
}

// The force of a knot acts until the knot after it.
TEST(GaitCurveTest, ContactHoldsOverTheIntervalOfItsForce) {
  const v1::Gait gait = test::MakeSineGait(test::MakeQuadruped(), {});
  const GaitCurve curve = MakeCurve(gait);
  CurvePoint point;
  curve.Evaluate(19.9 * gait.knot_period_s(), &point);
  EXPECT_THAT(point.contact, testing::Each(1));
  curve.Evaluate(20.1 * gait.knot_period_s(), &point);
  EXPECT_THAT(point.contact, testing::Each(0));
  curve.Evaluate(40.1 * gait.knot_period_s(), &point);
  EXPECT_THAT(point.contact, testing::Each(1));
}

TEST(GaitCurveTest, RefusesDamagedGaits) {
  const v1::Gait good = test::MakeSineGait(test::MakeQuadruped(), {});
  v1::Gait gait = good;
  gait.mutable_voltage_v()->RemoveLast();
  EXPECT_THAT(GaitCurve::Create(gait),
              HasStatus(absl::StatusCode::kDataLoss, HasSubstr("voltage_v has 319 values")));
  gait = good;
  gait.set_leg_position_m(5, std::numeric_limits<double>::quiet_NaN());
  EXPECT_THAT(GaitCurve::Create(gait),
              HasStatus(absl::StatusCode::kDataLoss, HasSubstr("leg_position_m[5]")));
  gait = good;
  gait.set_knot_period_s(0.0);
  EXPECT_THAT(GaitCurve::Create(gait), HasStatus(absl::StatusCode::kDataLoss, HasSubstr("knots")));
  gait = good;
  gait.set_knot_count(0);
  EXPECT_THAT(GaitCurve::Create(gait),
              HasStatus(absl::StatusCode::kDataLoss, HasSubstr("0 knots")));
}

// Such gaits came in bundles: knots without time between them led outside of the arrays, a count
// whose product with the width is 2^32 passed for 0 values, and values near the greatest double
// made setpoints that are no numbers.
TEST(GaitCurveTest, RefusesWhatNoRobotCouldFollow) {
  const v1::Gait good = test::MakeSineGait(test::MakeQuadruped(), {});
  v1::Gait gait = good;
  gait.set_knot_period_s(1e-310);
  EXPECT_THAT(GaitCurve::Create(gait), HasStatus(absl::StatusCode::kDataLoss, HasSubstr("knots")));
  gait = good;
  gait.set_knot_count(1 << 29);
  gait.clear_leg_position_m();
  EXPECT_THAT(GaitCurve::Create(gait), HasStatus(absl::StatusCode::kDataLoss, HasSubstr("knots")));
  gait = good;
  gait.set_leg_position_m(5, 1e308);
  EXPECT_THAT(GaitCurve::Create(gait),
              HasStatus(absl::StatusCode::kDataLoss, HasSubstr("leg_position_m[5]")));
  gait = good;
  gait.set_turn_rad(std::numeric_limits<double>::infinity());
  EXPECT_THAT(GaitCurve::Create(gait), HasStatus(absl::StatusCode::kDataLoss, HasSubstr("knots")));
}

// The body goes along an arc: smooth where the cycle closes, and by the motion's power after many.
TEST(GaitCurveTest, GoesOnAlongAnArcWhenTheGaitTurns) {
  v1::Gait gait = test::MakeSineGait(test::MakeQuadruped(), {});
  gait.set_turn_rad(0.4);
  gait.set_sidestep_m(0.001);
  const solver::PlanarMotion motion = {0.008, 0.001, 0.4};
  for (int knot = 0; knot < gait.knot_count(); ++knot) {
    const solver::PlanarPose pose =
        motion.Times(static_cast<double>(knot) / gait.knot_count()).End();
    gait.set_body_position_m(3 * knot, pose.x);
    gait.set_body_position_m(3 * knot + 1, pose.y);
    gait.set_body_attitude_rad(3 * knot + 2, pose.heading);
  }
  const GaitCurve curve = MakeCurve(gait);
  CurvePoint point;
  for (const double cycles : {-1.3, 0.0, 0.999, 1.001, 7.7}) {
    curve.Evaluate(cycles * 0.1, &point);
    const solver::PlanarPose pose = motion.Times(cycles).End();
    // 1e-8 m: cubics through points of a circle 0.2 mm apart.
    EXPECT_NEAR(point.body_position_m[0], pose.x, 1e-8) << cycles;
    EXPECT_NEAR(point.body_position_m[1], pose.y, 1e-8) << cycles;
    EXPECT_NEAR(point.body_attitude_rad[2], pose.heading, 1e-9) << cycles;
  }
}

}  // namespace
}  // namespace gaitshelf::service
