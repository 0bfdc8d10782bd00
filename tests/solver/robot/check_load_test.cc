#include "solver/robot/check_load.h"

#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "solver/robot/check.h"
#include "tests/support/demo.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;

v1::Robot Demo() { return test::ReadDemoRobot("weevil"); }

v1::Bimorph* BimorphOf(v1::LinkageCoordinate* coordinate) {
  return coordinate->mutable_drive()->mutable_bimorph();
}

std::string FaultsOf(const v1::Robot& robot) {
  return std::string(ToStatus(CheckRobot(robot)).message());
}

TEST(CheckLoadTest, AGainInTheWrongUnitIsNamedForBothDrives) {
  v1::Robot robot = Demo();
  v1::LinkageLeg* leg = robot.mutable_legs(2)->mutable_linkage();
  BimorphOf(leg->mutable_lift())->set_gain_n_per_v(1.8);
  BimorphOf(leg->mutable_swing())->set_gain_n_per_v(1.2);
  EXPECT_THAT(FaultsOf(robot),
              AllOf(HasSubstr("legs[2].linkage.lift.drive.bimorph.gain_n_per_v is 1.8; makes a "
                              "force over the voltage range"),
                    HasSubstr("legs[2].linkage.swing.drive.bimorph.gain_n_per_v is 1.2; makes"),
                    HasSubstr("give newtons per volt")));
}

// Statics: four legs carry 1.9 g; each share is 4.66 mN. The foot is on a spring of 2.19 N/m, as
// its 95 Hz in lift at 6.1 mg say, and rises 0.65 mm: 6.5 mm of arm times 0.1 rad.
TEST(CheckLoadTest, AWeightThatDriveAndSpringsCannotHoldIsRefused) {
  v1::Robot robot = Demo();
  v1::LinkageLeg* leg = robot.mutable_legs(0)->mutable_linkage();
  BimorphOf(leg->mutable_lift())->set_gain_n_per_v(1e-5);
  leg->mutable_lift()->set_max_rad(0.1);
  EXPECT_THAT(FaultsOf(robot),
              AllOf(HasSubstr("legs[0].linkage.lift is "),
                    HasSubstr("its springs 0.00142 N at the end of its range"),
                    HasSubstr("less than the leg's share of the weight, 0.00466 N"),
                    HasSubstr("more gain or lever")));
}

TEST(CheckLoadTest, ABodyThatHangsNeedsNoHold) {
  v1::Robot robot = Demo();
  robot.mutable_body()->set_support(v1::BODY_SUPPORT_CLAMPED);
  robot.mutable_body()->set_clamp_height_m(0.011);
  BimorphOf(robot.mutable_legs(0)->mutable_linkage()->mutable_lift())->set_gain_n_per_v(1e-5);
  EXPECT_THAT(ToStatus(CheckRobot(robot)), test::IsOk());
}

}  // namespace
}  // namespace gaitshelf::solver
