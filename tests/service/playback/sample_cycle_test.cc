#include "service/playback/sample_cycle.h"

#include <cmath>
#include <numbers>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/gaits.h"
#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

using test::HasStatus;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

v1::SampleGaitRequest Count(int sample_count) {
  v1::SampleGaitRequest request;
  request.set_gait("g-1");
  request.set_sample_count(sample_count);
  return request;
}

v1::SampleGaitRequest Rate(double sample_rate_hz) {
  v1::SampleGaitRequest request;
  request.set_gait("g-1");
  request.set_sample_rate_hz(sample_rate_hz);
  return request;
}

std::vector<std::string> FieldsOf(const std::vector<v1::FieldViolation>& violations) {
  std::vector<std::string> fields;
  for (const v1::FieldViolation& violation : violations) {
    fields.push_back(violation.field());
  }
  return fields;
}

TEST(SampleCycleTest, SamplesACycleOnceAtEvenPhases) {
  const v1::Gait gait = test::MakeSineGait(test::MakeQuadruped(), {});
  const v1::SetpointBlock block = SampleCycle(Count(64), gait).value();
  EXPECT_EQ(block.sample_count(), 64);
  EXPECT_EQ(block.leg_names_size(), 4);
  EXPECT_EQ(block.foot_names_size(), 4);
  EXPECT_NEAR(block.sample_period_s(), 0.1 / 64, 1e-15);
  ASSERT_EQ(block.leg_position_m_size(), 64 * 8);
  ASSERT_EQ(block.contact_size(), 64 * 4);
  for (int sample = 0; sample < 64; ++sample) {
    EXPECT_NEAR(block.phase_ratio(sample), sample / 64.0, 1e-12);
    const double angle = 2.0 * std::numbers::pi * sample / 64.0;
    // Cubic curves through 40 knots stray from a sine of 1 mm by less than 2 um.
    EXPECT_NEAR(block.leg_position_m(8 * sample), 0.001 * std::sin(angle), 2e-6);
    EXPECT_NEAR(
        block.leg_rate_m_per_s(8 * sample), 0.02 * std::numbers::pi * std::cos(angle), 1e-3);
    EXPECT_EQ(block.contact(4 * sample), sample < 32 ? 1 : 0);
  }
}

TEST(SampleCycleTest, SamplesAHopFromItsFirstKnotToItsLast) {
  const v1::Gait gait = test::MakeHop(test::MakeQuadruped(), 41, 0.002);
  const v1::SetpointBlock block = SampleCycle(Count(81), gait).value();
  EXPECT_EQ(block.phase_ratio(0), 0.0);
  EXPECT_NEAR(block.phase_ratio(80), 1.0, 1e-12);
  EXPECT_EQ(block.leg_position_m(0), 0.0);
  EXPECT_NEAR(block.leg_position_m(80 * 8), 0.002, 1e-12);
  EXPECT_NEAR(80 * block.sample_period_s(), 40 * gait.knot_period_s(), 1e-15);
}

TEST(SampleCycleTest, TableAtARateIsNeverFasterThanTheGait) {
  const v1::Gait gait = test::MakeSineGait(test::MakeQuadruped(), {.frequency_hz = 12.0});
  const v1::SetpointBlock block = SampleCycle(Rate(1000.0), gait).value();
  EXPECT_EQ(block.sample_count(), 84);  // 83.3 periods of 1 ms in a cycle
  EXPECT_LT(block.sample_period_s(), 1e-3);
  const v1::Gait even = test::MakeSineGait(test::MakeQuadruped(), {.frequency_hz = 10.0});
  EXPECT_EQ(SampleCycle(Rate(1000.0), even)->sample_count(), 100);
}

TEST(SampleCycleTest, RefusesDamagedGaits) {
  v1::Gait gait = test::MakeSineGait(test::MakeQuadruped(), {});
  gait.mutable_voltage_v()->RemoveLast();
  EXPECT_THAT(SampleCycle(Count(64), gait).status(),
              HasStatus(absl::StatusCode::kDataLoss, HasSubstr("voltage_v")));
}

TEST(CheckSampleGaitTest, WantsOneOfCountAndRateInTheirRanges) {
  EXPECT_THAT(CheckSampleGait(Count(8)), IsEmpty());
  EXPECT_THAT(CheckSampleGait(Count(4096)), IsEmpty());
  EXPECT_THAT(CheckSampleGait(Rate(10.0)), IsEmpty());
  EXPECT_THAT(FieldsOf(CheckSampleGait({})), ElementsAre("gait", "sample_count"));
  v1::SampleGaitRequest both = Count(64);
  both.set_sample_rate_hz(1000.0);
  EXPECT_THAT(FieldsOf(CheckSampleGait(both)), ElementsAre("sample_count"));
  for (const int count : {-1, 7, 4097}) {
    EXPECT_THAT(FieldsOf(CheckSampleGait(Count(count))), ElementsAre("sample_count")) << count;
  }
  for (const double rate_hz : {9.9, 20000.1, std::nan("")}) {
    EXPECT_THAT(FieldsOf(CheckSampleGait(Rate(rate_hz))), ElementsAre("sample_rate_hz"));
  }
}

TEST(CheckSampleGaitTest, WantsMoreThanTwoSamplesAPeriodOfTheFastestMotion) {
  const v1::Gait gait =
      test::MakeSineGait(test::MakeQuadruped(), {.frequency_hz = 10.0, .harmonic = 8});
  EXPECT_THAT(CheckSampleGaitFor(Count(17), gait), IsEmpty());
  EXPECT_THAT(FieldsOf(CheckSampleGaitFor(Count(16), gait)), ElementsAre("sample_count"));
  EXPECT_THAT(FieldsOf(CheckSampleGaitFor(Rate(160.0), gait)), ElementsAre("sample_rate_hz"));
  const v1::Gait slow = test::MakeSineGait(test::MakeQuadruped(), {.frequency_hz = 1.0});
  EXPECT_THAT(FieldsOf(CheckSampleGaitFor(Rate(20000.0), slow)), ElementsAre("sample_rate_hz"));
}

}  // namespace
}  // namespace gaitshelf::service
