// Rules of a robot that take several of its parts.
#include <functional>
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

TEST(RobotCheckTest, AcceptsAPointMassOnOneFoot) {
  EXPECT_THAT(ToStatus(CheckRobot(test::PointMass())), IsOk());
}

TEST(RobotCheckTest, NamesEverythingThatAnEmptyRobotLacks) {
  const std::string text = Faults(v1::Robot());
  EXPECT_THAT(text, HasSubstr("name is missing; "));
  EXPECT_THAT(text, HasSubstr("body is missing; "));
  EXPECT_THAT(text, HasSubstr("legs is missing; needs at least one leg"));
}

TEST(RobotCheckTest, RejectsArraysOfWrongLength) {
  v1::Robot robot = test::SampleRobot();
  robot.mutable_body()->add_inertia_kg_m2(1e-7);
  LegOf(&robot)->mutable_foot_m()->RemoveLast();
  const std::string text = Faults(robot);
  EXPECT_THAT(text, HasSubstr("body.inertia_kg_m2 is [6e-08, 2.3e-07, 2.6e-07, 1e-07]; holds 4"));
  EXPECT_THAT(text, HasSubstr("legs[1].lumped.foot_m is [0.015, -0.0175]; holds 2 numbers; "));
}

// Each is the sample's value in the unit that people would use at a bench.
TEST(RobotCheckTest, TellsBenchUnitsFromSi) {
  struct Slip {
    const char* field;
    std::function<void(v1::Robot*)> make;
    const char* mend;
  };
  const Slip slips[] = {
      {"body.mass_kg is 1.9;",
       [](v1::Robot* robot) { robot->mutable_body()->set_mass_kg(1.9); },
       "1.9 g is 0.0019"},
      {"body.mass_kg is 1900;",
       [](v1::Robot* robot) { robot->mutable_body()->set_mass_kg(1900); },
       "1.9 g is 0.0019"},
      {"body.inertia_kg_m2[0] is 6e-05;",
       [](v1::Robot* robot) {
         SetTriple(robot->mutable_body()->mutable_inertia_kg_m2(), 6e-5, 2.3e-4, 2.6e-4);
       },
       "61 g mm^2 is 6.1e-8"},
      {"body.inertia_kg_m2[0] is 60;",
       [](v1::Robot* robot) {
         SetTriple(robot->mutable_body()->mutable_inertia_kg_m2(), 60, 230, 260);
       },
       "61 g mm^2 is 6.1e-8"},
      {"body.size_m[0] is 38;",
       [](v1::Robot* robot) { SetTriple(robot->mutable_body()->mutable_size_m(), 38, 18, 9); },
       "38 mm is 0.038"},
      {"body.center_of_mass_m is [1, 0.5, -0.2];",
       [](v1::Robot* robot) {
         SetTriple(robot->mutable_body()->mutable_center_of_mass_m(), 1, 0.5, -0.2);
       },
       "38 mm is 0.038"},
      {"legs[1].lumped.foot_m[0] is 15;",
       [](v1::Robot* robot) { SetTriple(LegOf(robot)->mutable_foot_m(), 15, 17.5, -11); },
       "38 mm is 0.038"},
      {"legs[1].lumped.foot_mass_kg is 4;",
       [](v1::Robot* robot) { LegOf(robot)->set_foot_mass_kg(4); },
       "1.9 g is 0.0019"},
      {"legs[1].lumped.lift.max_m is 3;",
       [](v1::Robot* robot) { LegOf(robot)->mutable_lift()->set_max_m(3); },
       "38 mm is 0.038"},
      {"legs[1].lumped.lift.bimorph.gain_n_per_v is 1.8;",
       [](v1::Robot* robot) {
         LegOf(robot)->mutable_lift()->mutable_bimorph()->set_gain_n_per_v(1.8);
       },
       "1.8 mN/V is 0.0018"},
      {"legs[1].lumped.swing.bimorph.capacitance_f is 4.7;",
       [](v1::Robot* robot) {
         LegOf(robot)->mutable_swing()->mutable_bimorph()->set_capacitance_f(4.7);
       },
       "4.7 nF is 4.7e-9"},
      {"body_feet[0].point_m[0] is -15;",
       [](v1::Robot* robot) {
         SetTriple(robot->mutable_body_feet(0)->mutable_point_m(), -15, 1, -11);
       },
       "38 mm is 0.038"},
      {"leg_controller.hop_gain_ratio is 30;",
       [](v1::Robot* robot) { robot->mutable_leg_controller()->set_hop_gain_ratio(30); },
       "30 % is 0.3"},
      {"uncertainty.gain_ratio is 5;",
       [](v1::Robot* robot) { robot->mutable_uncertainty()->set_gain_ratio(5); },
       "30 % is 0.3"},
  };
  for (const Slip& slip : slips) {
    v1::Robot robot = test::SampleRobot();
    slip.make(&robot);
    const std::string text = Faults(robot);
    EXPECT_THAT(text, HasSubstr(slip.field));
    EXPECT_THAT(text, HasSubstr(slip.mend));
  }
}

TEST(RobotCheckTest, RejectsNamesGivenTwice) {
  v1::Robot robot = test::SampleRobot();
  robot.mutable_legs(1)->set_name("left");
  robot.mutable_body_feet(0)->set_name("left");
  const std::string text = Faults(robot);
  EXPECT_THAT(text, HasSubstr("legs[1].name is \"left\"; is also the name in legs[0].name; "));
  EXPECT_THAT(text, HasSubstr("body_feet[0].name is \"left\"; is also the name in legs[0].name; "));
}

TEST(RobotCheckTest, RejectsMoreThanSixteenLegs) {
  v1::Robot robot = test::SampleRobot();
  for (int i = 0; i < 15; ++i) {
    test::AddLeg("more-" + std::to_string(i), 0.02, &robot);
  }
  EXPECT_THAT(Faults(robot), HasSubstr("legs is 17 entries; must have at most 16 entries; "));
}

}  // namespace
}  // namespace gaitshelf::solver
