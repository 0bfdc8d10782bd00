#include "solver/measure/column_label.h"

#include <numbers>

#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using testing::HasSubstr;

const TrialParts kParts = {.leg_names = {"front-left", "rear-left"},
                           .foot_names = {"front-left", "rear-left", "skid"}};

testing::Matcher<absl::StatusOr<v1::TrialColumn>> IsRefused(const std::string& part) {
  return test::HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr(part));
}

struct Sample {
  std::string label;
  v1::TrialQuantity quantity;
  std::string part;
  int axis;
  double si_ratio;
};

TEST(ColumnLabelTest, ReadsEveryKindOfLabel) {
  for (const Sample& sample : {
           Sample{"time [ms]", v1::TRIAL_QUANTITY_TIME, "", 0, 1e-3},
           Sample{"phase", v1::TRIAL_QUANTITY_PHASE, "", 0, 1.0},
           Sample{"power [uW]", v1::TRIAL_QUANTITY_POWER, "", 0, 1e-6},
           Sample{"body y [mm]", v1::TRIAL_QUANTITY_BODY_POSITION, "", 1, 1e-3},
           Sample{
               "body yaw [deg]", v1::TRIAL_QUANTITY_BODY_ATTITUDE, "", 2, std::numbers::pi / 180.0},
           Sample{"front-left swing [um]", v1::TRIAL_QUANTITY_LEG_POSITION, "front-left", 1, 1e-6},
           Sample{"rear-left lift voltage [V]", v1::TRIAL_QUANTITY_VOLTAGE, "rear-left", 0, 1.0},
           Sample{"rear-left swing current [mA]", v1::TRIAL_QUANTITY_CURRENT, "rear-left", 1, 1e-3},
           Sample{"front-left lift force [mN]",
                  v1::TRIAL_QUANTITY_APPLIED_FORCE,
                  "front-left",
                  0,
                  1e-3},
           Sample{"skid contact", v1::TRIAL_QUANTITY_CONTACT, "skid", 0, 1.0},
           Sample{"front-left z [mm]", v1::TRIAL_QUANTITY_FOOT_POSITION, "front-left", 2, 1e-3},
           Sample{"skid force z [mN]", v1::TRIAL_QUANTITY_FOOT_FORCE, "skid", 2, 1e-3},
           Sample{"tilt [deg]", v1::TRIAL_QUANTITY_TILT, "", 0, std::numbers::pi / 180.0},
           Sample{" pull force [mN] ", v1::TRIAL_QUANTITY_PULL_FORCE, "", 0, 1e-3},
           Sample{"normal force [N]", v1::TRIAL_QUANTITY_NORMAL_FORCE, "", 0, 1.0},
           Sample{"slide distance [mm]", v1::TRIAL_QUANTITY_SLIDE_DISTANCE, "", 0, 1e-3},
           Sample{"slide time [s]", v1::TRIAL_QUANTITY_SLIDE_TIME, "", 0, 1.0},
           Sample{"added mass [mg]", v1::TRIAL_QUANTITY_ADDED_MASS, "", 0, 1e-6},
       }) {
    const auto column = ReadColumnLabel(sample.label, kParts);
    ASSERT_THAT(column, test::IsOk()) << sample.label;
    EXPECT_EQ(column->label(), sample.label);
    EXPECT_EQ(column->quantity(), sample.quantity) << sample.label;
    EXPECT_EQ(column->part(), sample.part) << sample.label;
    EXPECT_EQ(column->axis(), sample.axis) << sample.label;
    EXPECT_DOUBLE_EQ(column->si_ratio(), sample.si_ratio) << sample.label;
  }
}

TEST(ColumnLabelTest, SaysWhatToWriteInstead) {
  EXPECT_THAT(ReadColumnLabel("", kParts), IsRefused("nothing is called"));
  EXPECT_THAT(ReadColumnLabel("middle-left lift [mm]", kParts), IsRefused("front-left"));
  EXPECT_THAT(ReadColumnLabel("body w [mm]", kParts), IsRefused("roll, pitch or yaw"));
  EXPECT_THAT(ReadColumnLabel("front-left heave [mm]", kParts), IsRefused("lift, swing"));
  EXPECT_THAT(ReadColumnLabel("skid lift [mm]", kParts), IsRefused("\"lift\""));
  EXPECT_THAT(ReadColumnLabel("body x", kParts),
              IsRefused("unit is missing; end with [m] or [mm]"));
  EXPECT_THAT(ReadColumnLabel("body x []", kParts), IsRefused("\"\" does not fit"));
  EXPECT_THAT(ReadColumnLabel("body x [deg]", kParts), IsRefused("\"deg\" does not fit"));
  EXPECT_THAT(ReadColumnLabel("body x mm]", kParts), IsRefused("bracket"));
}

TEST(ColumnLabelTest, PartsAreLegsAndFeetOfTheRobot) {
  const TrialParts parts = PartsOf(test::MakeHexapod());
  EXPECT_EQ(parts.leg_names.size(), 6U);
  EXPECT_EQ(parts.foot_names.size(), 7U);
  EXPECT_EQ(parts.foot_names.back(), "foot-1");
}

}  // namespace
}  // namespace gaitshelf::solver
