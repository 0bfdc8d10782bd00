#include "service/playback/setpoint_source.h"

#include <cmath>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/gaits.h"
#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

using test::HasStatus;
using testing::HasSubstr;

// Reads a stream to its end and puts it together.
v1::SetpointBlock ReadAll(SetpointSource* source, int block_size) {
  v1::SetpointBlock all = source->NextBlock(block_size);
  while (!source->is_finished()) {
    v1::SetpointBlock block = source->NextBlock(block_size);
    EXPECT_EQ(block.first_sample(), all.sample_count());
    EXPECT_NEAR(block.first_sample_time_s(), all.sample_count() * all.sample_period_s(), 1e-9);
    EXPECT_EQ(block.leg_names_size(), 0);
    const int count = all.sample_count() + block.sample_count();
    block.clear_first_sample();
    block.clear_first_sample_time_s();
    all.MergeFrom(block);  // repeated fields are joined
    all.set_sample_count(count);
  }
  return all;
}

v1::SetpointBlock Play(const v1::Gait& gait,
                       const v1::Robot& robot,
                       const SetpointOptions& options) {
  SetpointSource source = SetpointSource::Create(gait, robot, options).value();
  return ReadAll(&source, 20);
}

TEST(SetpointSourceTest, GoesFromRestAlongTheGaitToRest) {
  const v1::Robot robot = test::MakeQuadruped();
  const v1::SetpointBlock all = Play(test::MakeSineGait(robot, {}), robot, {.duration_s = 1.0});
  EXPECT_EQ(all.sample_count(), 2001);
  EXPECT_EQ(all.leg_names_size(), 4);
  EXPECT_EQ(all.foot_names_size(), 4);
  EXPECT_EQ(all.contact_size(), 4 * 2001);
  for (const int sample : {0, 2000}) {
    for (int i = 0; i < 8; ++i) {
      EXPECT_EQ(all.leg_position_m(8 * sample + i), 0.0);
      EXPECT_EQ(all.leg_rate_m_per_s(8 * sample + i), 0.0);
      EXPECT_EQ(all.voltage_v(8 * sample + i), 100.0);
    }
  }
  EXPECT_EQ(all.phase_ratio(499), -1.0);
  // 0.25 s into a gait of 10 Hz.
  EXPECT_NEAR(all.phase_ratio(750), 0.5, 1e-9);
  EXPECT_NEAR(all.body_position_m(3 * 750), 2.5 * 0.008, 1e-9);
  EXPECT_NEAR(all.leg_position_m(8 * 775), 0.001 * std::sin(2.0 * std::numbers::pi * 2.75), 1e-6);
  EXPECT_EQ(all.phase_ratio(1501), -1.0);
}

TEST(SetpointSourceTest, HasNoJumpInPositionRateOrBody) {
  const v1::Robot robot = test::MakeQuadruped();
  const v1::SetpointBlock all =
      Play(test::MakeSineGait(robot, {.frequency_hz = 28.0, .amplitude_m = 0.004}),
           robot,
           {.duration_s = 0.4});
  const double greatest_rate_m_per_s = 0.004 * 2.0 * std::numbers::pi * 28.0;
  for (int i = 8; i < all.leg_position_m_size(); ++i) {
    // Fading in adds at most 1.875 / 0.5 s of the amplitude; 1 % for the cubic's own error.
    EXPECT_LE(std::abs(all.leg_rate_m_per_s(i)), 1.01 * greatest_rate_m_per_s + 0.004 * 3.75);
    const double mean_rate = 0.5 * (all.leg_rate_m_per_s(i) + all.leg_rate_m_per_s(i - 8));
    // Trapezium over 1 ms: w^2 h^2 / 12 of the rate is 0.3 %.
    EXPECT_NEAR((all.leg_position_m(i) - all.leg_position_m(i - 8)) / 0.001,
                mean_rate,
                0.01 * greatest_rate_m_per_s);
  }
  for (int i = 3; i < all.body_position_m_size(); ++i) {
    EXPECT_LE(std::abs(all.body_position_m(i) - all.body_position_m(i - 3)), 0.008 * 28.0 * 1.1e-3);
  }
}

TEST(SetpointSourceTest, VoltageStaysInRangeAndRateWhateverTheGaitSays) {
  v1::Robot robot = test::MakeQuadruped();
  const v1::Gait gait =
      test::MakeSineGait(robot, {.frequency_hz = 28.0, .harmonic = 5, .amplitude_v = 900.0});
  for (v1::Leg& leg : *robot.mutable_legs()) {
    leg.mutable_lumped()->mutable_lift()->mutable_bimorph()->set_slew_v_per_s(500.0);
  }
  for (const int bits : {0, 12}) {
    const v1::SetpointBlock all = Play(gait, robot, {.duration_s = 0.5, .drive_bits = bits});
    for (int i = 0; i < all.voltage_v_size(); ++i) {
      EXPECT_GE(all.voltage_v(i), 0.0);
      EXPECT_LE(all.voltage_v(i), 200.0);
      if (i >= 8) {
        const double slew_v_per_s = i % 2 == 0 ? 500.0 : 2e5;
        EXPECT_LE(std::abs(all.voltage_v(i) - all.voltage_v(i - 8)), slew_v_per_s * 0.001);
      }
    }
    // At rest in the end: at most half a step of 200 V / 2^12 beside the bias.
    EXPECT_NEAR(all.voltage_v(all.voltage_v_size() - 2), 100.0, 0.03);
  }
}

TEST(SetpointSourceTest, HopHoldsItsEndUntilTheWayDown) {
  const v1::Robot robot = test::MakeQuadruped();
  const v1::SetpointBlock all = Play(test::MakeHop(robot, 41, 0.001), robot, {.duration_s = 0.5});
  EXPECT_EQ(all.leg_position_m(8 * 499), 0.0);
  EXPECT_DOUBLE_EQ(all.leg_position_m(8 * 700), 0.001);
  EXPECT_EQ(all.phase_ratio(700), 1.0);
  EXPECT_EQ(all.leg_position_m(all.leg_position_m_size() - 1), 0.0);
}

TEST(SetpointSourceTest, RestsAtTheNearestEndOfATravelWithoutZero) {
  v1::Robot robot = test::MakeQuadruped();
  v1::LegCoordinate* lift = robot.mutable_legs(0)->mutable_lumped()->mutable_lift();
  lift->set_min_m(0.0002);
  lift->clear_bimorph();
  const v1::SetpointBlock all = Play(test::MakeSineGait(robot, {}), robot, {.duration_s = 0.1});
  EXPECT_EQ(all.leg_position_m(0), 0.0002);
  EXPECT_EQ(all.voltage_v(0), 0.0);
}

TEST(SetpointSourceTest, SameSamplesWhateverTheBlockSize) {
  const v1::Robot robot = test::MakeQuadruped();
  const v1::Gait gait = test::MakeSineGait(robot, {});
  SetpointSource one = SetpointSource::Create(gait, robot, {.duration_s = 0.3}).value();
  SetpointSource many = SetpointSource::Create(gait, robot, {.duration_s = 0.3}).value();
  EXPECT_EQ(ReadAll(&one, 1).SerializeAsString(), ReadAll(&many, 100000).SerializeAsString());
  EXPECT_EQ(one.NextBlock(10).sample_count(), 0);
}

TEST(SetpointSourceTest, EndsEarlyWithoutAJump) {
  const v1::Robot robot = test::MakeQuadruped();
  const v1::Gait gait = test::MakeSineGait(robot, {});
  for (const int samples_before : {0, 200, 500, 700, 1400, 1800}) {
    SetpointSource source = SetpointSource::Create(gait, robot, {.duration_s = 1.0}).value();
    v1::SetpointBlock all = source.NextBlock(samples_before);
    source.EndEarly();
    const v1::SetpointBlock rest = source.NextBlock(5000);
    EXPECT_TRUE(source.is_finished());
    EXPECT_LE(samples_before + rest.sample_count(), std::max(1001, samples_before + 502));
    all.MergeFrom(rest);
    for (int i = 8; i < all.leg_position_m_size(); ++i) {
      // The gait's own greatest rate is 0.063 m/s; fading adds at most 0.004.
      EXPECT_LE(std::abs(all.leg_position_m(i) - all.leg_position_m(i - 8)), 0.068e-3);
    }
    for (int i = 1; i <= 8; ++i) {
      EXPECT_EQ(all.leg_position_m(all.leg_position_m_size() - i), 0.0);
      EXPECT_EQ(all.voltage_v(all.voltage_v_size() - i), 100.0);
    }
  }
}

TEST(SetpointSourceTest, PhaseDoesNotDriftInADay) {
  const v1::Robot robot = test::MakeQuadruped();
  const GaitCurve curve = GaitCurve::Create(test::MakeSineGait(robot, {})).value();
  CurvePoint point;
  curve.Evaluate(86400.0 + 0.025, &point);
  // 86400 s at 10 Hz in double precision: 1e-10 of a cycle.
  EXPECT_NEAR(point.phase_ratio, 0.25, 1e-9);
}

TEST(SetpointSourceTest, RefusesWhatDoesNotBelongTogetherAndSaysWhy) {
  v1::Robot robot = test::MakeQuadruped();
  const v1::Gait gait = test::MakeSineGait(robot, {});
  EXPECT_THAT(SetpointSource::Create(gait, test::MakeHexapod(), {.duration_s = 1.0}).status(),
              HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("4 legs")));
  v1::Bimorph* bimorph =
      robot.mutable_legs(1)->mutable_lumped()->mutable_swing()->mutable_bimorph();
  bimorph->set_slew_v_per_s(1.0);
  EXPECT_THAT(SetpointSource::Create(gait, robot, {.duration_s = 1.0}).status(),
              HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("legs[1].lumped.swing")));
  bimorph->set_slew_v_per_s(100.0);
  EXPECT_THAT(SetpointSource::Create(gait, robot, {.duration_s = 1.0, .drive_bits = 8}).status(),
              HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("8-bit converter")));
}

}  // namespace
}  // namespace gaitshelf::service
