#include "service/playback/check_session.h"

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

std::vector<std::string> FieldsOf(const std::vector<v1::FieldViolation>& violations) {
  std::vector<std::string> fields;
  for (const v1::FieldViolation& violation : violations) {
    EXPECT_FALSE(violation.value().empty());
    EXPECT_FALSE(violation.mend().empty());
    fields.push_back(violation.field());
  }
  return fields;
}

TEST(CheckSessionTest, AcceptsTheDefaults) {
  v1::ArmSession arm;
  arm.add_gaits("g-1");
  SetDefaults(&arm);
  EXPECT_THAT(CheckArm(arm), IsEmpty());
  EXPECT_EQ(arm.sample_rate_hz(), 1000.0);
  EXPECT_EQ(arm.lead_s(), 0.4);
  EXPECT_EQ(arm.silence_s(), 0.5);
}

TEST(CheckSessionTest, NamesEveryFaultAtOnce) {
  v1::ArmSession arm;
  arm.set_sample_rate_hz(5.0);
  arm.set_armed_by(std::string(64, 'x'));
  arm.set_drive(std::string(64, 'x'));
  arm.set_drive_bits(25);
  arm.set_lead_s(0.05);
  arm.set_silence_s(std::numeric_limits<double>::quiet_NaN());
  EXPECT_THAT(
      FieldsOf(CheckArm(arm)),
      ElementsAre(
          "gaits", "sample_rate_hz", "armed_by", "drive", "drive_bits", "lead_s", "silence_s"));
  for (const char* name : {"g-1", "", "g-1"}) {
    arm.add_gaits(name);
  }
  EXPECT_EQ(CheckArm(arm)[0].field(), "gaits[1]");
  EXPECT_EQ(CheckArm(arm)[1].field(), "gaits[2]");
}

TEST(CheckSessionTest, HoldsTheRateAgainstEveryGait) {
  const v1::Robot robot = test::MakeQuadruped();
  std::vector<PlayableGait> gaits;
  gaits.push_back(MakePlayable(test::MakeSineGait(robot, {.frequency_hz = 3.0}), robot).value());
  gaits.push_back(MakePlayable(test::MakeSineGait(robot, {.frequency_hz = 28.0}), robot).value());
  EXPECT_THAT(CheckRateForGaits(57.0, gaits), IsEmpty());
  EXPECT_THAT(FieldsOf(CheckRateForGaits(56.0, gaits)), ElementsAre("sample_rate_hz"));
  v1::ChangeRate change;
  EXPECT_THAT(CheckChange(change, gaits), IsEmpty());
  change.set_sample_rate_hz(50.0);
  change.set_pace_ratio(1.01);
  const auto violations = CheckChange(change, gaits);
  EXPECT_EQ(violations[0].field(), "pace_ratio");
  EXPECT_THAT(violations[0].problem(), HasSubstr("not played faster than planned"));
  change.set_pace_ratio(0.05);
  EXPECT_THAT(FieldsOf(CheckChange(change, gaits)), ElementsAre("sample_rate_hz"));
}

TEST(CheckSessionTest, TakesPhasesOfOneCycle) {
  v1::SwitchGait command;
  EXPECT_THAT(CheckSwitch(command), IsEmpty());
  command.set_phase_ratio(0.0);
  EXPECT_THAT(CheckSwitch(command), IsEmpty());
  for (const double bad : {1.0, -0.1, std::numeric_limits<double>::quiet_NaN()}) {
    command.set_phase_ratio(bad);
    EXPECT_THAT(FieldsOf(CheckSwitch(command)), ElementsAre("phase_ratio")) << bad;
  }
}

}  // namespace
}  // namespace gaitshelf::service
