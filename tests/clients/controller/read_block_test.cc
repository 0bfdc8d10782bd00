#include "clients/controller/read_block.h"

#include <limits>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/status_matchers.h"

namespace gaitshelf::client {
namespace {

using test::HasStatus;
using testing::HasSubstr;

v1::SessionLimits MakeMessage(int channels) {
  v1::SessionLimits message;
  message.set_sample_rate_hz(1000.0);
  message.set_lead_s(0.25);
  for (int i = 0; i < channels; ++i) {
    message.add_rest_position_m(0.001 * i);
    message.add_leg_rate_m_per_s(0.5);
    message.add_rest_voltage_v(100.0);
    message.add_min_voltage_v(0.0);
    message.add_max_voltage_v(200.0);
    message.add_slew_v_per_s(2000.0);
  }
  return message;
}

v1::SetpointBlock MakeBlock() {
  v1::SetpointBlock block;
  block.set_first_sample(7);
  block.set_sample_count(2);
  for (int i = 0; i < 4; ++i) {
    block.add_leg_position_m(i);
    block.add_leg_rate_m_per_s(10 + i);
    block.add_voltage_v(20 + i);
    block.add_contact(i % 2);
  }
  block.add_phase_ratio(0.1);
  block.add_phase_ratio(0.2);
  return block;
}

TEST(ReadBlockTest, ReadsLimitsAndRefusesThoseThatDoNotFit) {
  const auto limits = ReadLimits(MakeMessage(3));
  ASSERT_THAT(limits, test::IsOk());
  EXPECT_EQ(limits->channel_count, 3U);
  EXPECT_EQ(limits->rest_position_m[2], 0.002);
  EXPECT_EQ(limits->slew_v_per_s[2], 2000.0);
  EXPECT_EQ(limits->lead_s, 0.25);
  EXPECT_THAT(ReadLimits(MakeMessage(33)),
              HasStatus(absl::StatusCode::kResourceExhausted, HasSubstr("33")));
  v1::SessionLimits message = MakeMessage(3);
  message.add_slew_v_per_s(1.0);
  EXPECT_THAT(ReadLimits(message), HasStatus(absl::StatusCode::kDataLoss, HasSubstr("limits")));
  message = MakeMessage(3);
  message.set_lead_s(0.0);
  EXPECT_THAT(ReadLimits(message), HasStatus(absl::StatusCode::kDataLoss, HasSubstr("lead")));
  message = MakeMessage(3);
  message.set_min_voltage_v(1, 300.0);
  EXPECT_THAT(ReadLimits(message), HasStatus(absl::StatusCode::kDataLoss, HasSubstr("contradict")));
  message = MakeMessage(3);
  message.set_max_voltage_v(1, std::numeric_limits<double>::quiet_NaN());
  EXPECT_THAT(ReadLimits(message), HasStatus(absl::StatusCode::kDataLoss, HasSubstr("limits")));
  message = MakeMessage(3);
  message.clear_sample_rate_hz();
  EXPECT_THAT(ReadLimits(message), HasStatus(absl::StatusCode::kDataLoss, HasSubstr("rate")));
}

TEST(ReadBlockTest, ReadsEverySample) {
  const Limits limits = ReadLimits(MakeMessage(2)).value();
  const v1::SetpointBlock block = MakeBlock();
  ASSERT_THAT(CheckBlock(block, limits, 7), test::IsOk());
  const Setpoint setpoint = ReadSetpoint(block, limits, 1);
  EXPECT_EQ(setpoint.number, 8);
  EXPECT_EQ(setpoint.phase_ratio, 0.2);
  EXPECT_EQ(setpoint.position_m[1], 3.0);
  EXPECT_EQ(setpoint.rate_m_per_s[0], 12.0);
  EXPECT_EQ(setpoint.voltage_v[1], 23.0);
  EXPECT_EQ(setpoint.voltage_v[2], 0.0);
  EXPECT_EQ(setpoint.contact_bits, 2U);
}

TEST(ReadBlockTest, RefusesBlocksThatDoNotHoldWhatTheySay) {
  const Limits limits = ReadLimits(MakeMessage(2)).value();
  EXPECT_THAT(CheckBlock(MakeBlock(), limits, 6),
              HasStatus(absl::StatusCode::kDataLoss, HasSubstr("6 should come next, 7 came")));
  v1::SetpointBlock block = MakeBlock();
  block.add_voltage_v(1.0);
  EXPECT_THAT(CheckBlock(block, limits, 7),
              HasStatus(absl::StatusCode::kDataLoss, HasSubstr("does not hold")));
  block = MakeBlock();
  block.add_contact(1);
  EXPECT_THAT(CheckBlock(block, limits, 7),
              HasStatus(absl::StatusCode::kDataLoss, HasSubstr("does not hold")));
}

}  // namespace
}  // namespace gaitshelf::client
