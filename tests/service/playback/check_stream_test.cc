#include "service/playback/check_stream.h"

#include <limits>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/gaits.h"
#include "tests/support/robots.h"

namespace gaitshelf::service {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

v1::StreamSetpointsRequest GoodRequest() {
  v1::StreamSetpointsRequest request;
  request.set_gait("g-1");
  request.set_duration_s(2.0);
  request.set_is_preview(true);
  return request;
}

std::vector<std::string> FieldsOf(const std::vector<v1::FieldViolation>& violations) {
  std::vector<std::string> fields;
  for (const v1::FieldViolation& violation : violations) {
    EXPECT_FALSE(violation.value().empty());
    EXPECT_FALSE(violation.problem().empty());
    EXPECT_FALSE(violation.mend().empty());
    fields.push_back(violation.field());
  }
  return fields;
}

TEST(CheckStreamTest, AcceptsAGoodRequest) { EXPECT_THAT(CheckStream(GoodRequest()), IsEmpty()); }

TEST(CheckStreamTest, NamesEveryFaultAtOnce) {
  v1::StreamSetpointsRequest request;
  request.set_sample_rate_hz(5.0);
  request.set_is_unpaced(true);
  request.set_drive_bits(7);
  request.set_armed_by(std::string(64, 'x'));
  EXPECT_THAT(
      FieldsOf(CheckStream(request)),
      ElementsAre("gait", "sample_rate_hz", "duration_s", "armed_by", "is_unpaced", "drive_bits"));
}

TEST(CheckStreamTest, RefusesRatesAndDurationsOutOfRange) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const double infinity = std::numeric_limits<double>::infinity();
  for (const double bad_hz : {-1.0, 9.99, 20000.1, nan, infinity}) {
    v1::StreamSetpointsRequest request = GoodRequest();
    request.set_sample_rate_hz(bad_hz);
    EXPECT_THAT(FieldsOf(CheckStream(request)), ElementsAre("sample_rate_hz")) << bad_hz;
  }
  for (const double bad_s : {-1.0, 0.0, 86400.1, nan, infinity}) {
    v1::StreamSetpointsRequest request = GoodRequest();
    request.set_duration_s(bad_s);
    EXPECT_THAT(FieldsOf(CheckStream(request)), ElementsAre("duration_s")) << bad_s;
  }
}

TEST(CheckStreamForTest, RefusesARateThatWouldAlias) {
  const v1::Gait gait =
      test::MakeSineGait(test::MakeQuadruped(), {.frequency_hz = 20.0, .harmonic = 4});
  v1::StreamSetpointsRequest request = GoodRequest();
  EXPECT_THAT(CheckStreamFor(request, gait), IsEmpty());
  request.set_sample_rate_hz(161.0);
  EXPECT_THAT(CheckStreamFor(request, gait), IsEmpty());
  request.set_sample_rate_hz(100.0);
  const std::vector<v1::FieldViolation> violations = CheckStreamFor(request, gait);
  ASSERT_THAT(FieldsOf(violations), ElementsAre("sample_rate_hz"));
  EXPECT_THAT(violations[0].problem(), HasSubstr("more than 160 Hz"));
  EXPECT_THAT(violations[0].problem(), HasSubstr("80 Hz would show as 20 Hz"));
}

}  // namespace
}  // namespace gaitshelf::service
