// Rules of a leg that take several of its fields, by way of CheckRobot.
#include <string>

#include "solver/robot/check.h"
#include "tests/solver/robot/samples.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using test::IsOk;
using testing::HasSubstr;

std::string Faults(const v1::Robot& robot) {
  return std::string(ToStatus(CheckRobot(robot)).message());
}

v1::LumpedLeg* LegOf(v1::Robot* robot) { return robot->mutable_legs(1)->mutable_lumped(); }

void SetTriple(google::protobuf::RepeatedField<double>* field, double x, double y, double z) {
  field->Clear();
  field->Add(x);
  field->Add(y);
  field->Add(z);
}

TEST(LegCheckTest, AcceptsALegWithoutDrives) {
  v1::Robot robot = test::SampleRobot();
  for (v1::LegCoordinate* coordinate :
       {LegOf(&robot)->mutable_lift(), LegOf(&robot)->mutable_swing()}) {
    coordinate->clear_bimorph();
    coordinate->clear_transmission_ratio();
  }
  EXPECT_THAT(ToStatus(CheckRobot(robot)), IsOk());
}

TEST(LegCheckTest, RejectsAClampThatHoldsTheFeetBelowTheSurface) {
  v1::Robot robot = test::SampleRobot();
  robot.mutable_body()->set_support(v1::BODY_SUPPORT_CLAMPED);
  robot.mutable_body()->set_clamp_height_m(0.007);  // feet at -11 mm, raised by 3 mm at most
  EXPECT_THAT(Faults(robot),
              HasSubstr("legs[1].lumped.foot_m is [0.015, -0.0175, -0.011]; is below"));
}

TEST(LegCheckTest, RejectsDirectionsThatAreNotUnitVectors) {
  v1::Robot robot = test::SampleRobot();
  SetTriple(LegOf(&robot)->mutable_lift()->mutable_direction_ratio(), 0.6, 0.0, 0.8 + 3e-6);
  EXPECT_THAT(Faults(robot),
              HasSubstr("legs[1].lumped.lift.direction_ratio is [0.6, 0, 0.800003]; "
                        "must have norm 1 within 1e-6"));
  SetTriple(LegOf(&robot)->mutable_lift()->mutable_direction_ratio(), 0.6, 0.0, 0.8 + 1e-7);
  EXPECT_THAT(ToStatus(CheckRobot(robot)), IsOk());
}

TEST(LegCheckTest, RejectsALiftThatDoesNotRaiseAndASwingThatDoesNotGoForward) {
  v1::Robot robot = test::SampleRobot();
  SetTriple(LegOf(&robot)->mutable_lift()->mutable_direction_ratio(), 0.0, 0.0, -1.0);
  SetTriple(LegOf(&robot)->mutable_swing()->mutable_direction_ratio(), 0.0, 1.0, 0.0);
  const std::string text = Faults(robot);
  EXPECT_THAT(text, HasSubstr("legs[1].lumped.lift.direction_ratio is [0, 0, -1]; must point up"));
  EXPECT_THAT(text, HasSubstr("legs[1].lumped.swing.direction_ratio is [0, 1, 0]; must point for"));
}

TEST(LegCheckTest, RejectsLiftAndSwingAlongOneLine) {
  v1::Robot robot = test::SampleRobot();
  SetTriple(LegOf(&robot)->mutable_lift()->mutable_direction_ratio(), 0.6, 0.0, 0.8);
  SetTriple(LegOf(&robot)->mutable_swing()->mutable_direction_ratio(), 0.6, 0.0, 0.8);
  EXPECT_THAT(Faults(robot),
              HasSubstr("legs[1].lumped.swing.direction_ratio is [0.6, 0, 0.8]; "
                        "must not be parallel to lift.direction_ratio"));
}

TEST(LegCheckTest, RejectsATravelThatIsEmptyOrLeavesOutTheRestPosition) {
  v1::Robot robot = test::SampleRobot();
  v1::LegCoordinate* lift = LegOf(&robot)->mutable_lift();
  lift->set_min_m(0.001);
  EXPECT_THAT(Faults(robot), HasSubstr("legs[1].lumped.lift.min_m is 0.001; must leave 0"));
  lift->set_min_m(-0.003);
  lift->set_max_m(-0.001);
  EXPECT_THAT(Faults(robot), HasSubstr("legs[1].lumped.lift.max_m is -0.001; must leave 0"));
  lift->clear_min_m();
  lift->clear_max_m();
  EXPECT_THAT(Faults(robot), HasSubstr("legs[1].lumped.lift.max_m is missing; must be more than"));
}

TEST(LegCheckTest, RejectsDrivesThatCannotWork) {
  v1::Robot robot = test::SampleRobot();
  v1::LegCoordinate* lift = LegOf(&robot)->mutable_lift();
  lift->set_transmission_ratio(1e-4);
  lift->mutable_bimorph()->set_bias_v(201.0);
  v1::Bimorph* swing = LegOf(&robot)->mutable_swing()->mutable_bimorph();
  swing->set_max_v(5.0);
  const std::string text = Faults(robot);
  EXPECT_THAT(text,
              HasSubstr("legs[1].lumped.lift.transmission_ratio is 0.0001; is required with"));
  EXPECT_THAT(text,
              HasSubstr("legs[1].lumped.lift.bimorph.bias_v is 201; must be inside min_v to "
                        "max_v, 10 to 200; "));
  EXPECT_THAT(text, HasSubstr("legs[1].lumped.swing.bimorph.max_v is 5; must be more than min_v"));
}

}  // namespace
}  // namespace gaitshelf::solver
