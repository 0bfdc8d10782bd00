#include "solver/robot/rule_walk.h"

#include <string>

#include "gaitshelf/v1/surface.pb.h"

#include "solver/robot/check.h"
#include "tests/solver/robot/samples.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using testing::HasSubstr;

TEST(RuleWalkTest, ReportsFieldsOfANewerVersion) {
  v1::Robot robot = test::SampleRobot();
  robot.mutable_legs(1)
      ->mutable_lumped()
      ->GetReflection()
      ->MutableUnknownFields(robot.mutable_legs(1)->mutable_lumped())
      ->AddVarint(99, 1);
  EXPECT_THAT(std::string(ToStatus(CheckRobot(robot)).message()),
              HasSubstr("legs[1].lumped.#99 is of a newer version; "));
}

TEST(RuleWalkTest, RejectsTitlesOfSeveralLines) {
  v1::Surface surface = test::SampleSurface();
  surface.set_title("one\ntwo");
  Violations violations;
  AddRuleFaults(surface, "", &violations);
  EXPECT_THAT(std::string(ToStatus(violations).message()), HasSubstr("title is \"one\\ntwo\"; "));
  surface.set_title(std::string(501, 'a'));
  violations.clear();
  AddRuleFaults(surface, "", &violations);
  ASSERT_EQ(violations.size(), 1u);
  EXPECT_LT(violations[0].value().size(), 100u);  // cut, not copied into the message
}

TEST(RuleWalkTest, TellsOfAVeryLongArrayOnce) {
  v1::Robot robot = test::SampleRobot();
  for (int i = 0; i < 100000; ++i) {
    robot.mutable_body()->add_inertia_kg_m2(-1.0);
  }
  const Violations violations = CheckRobot(robot);
  ASSERT_EQ(violations.size(), 1u);
  EXPECT_EQ(violations[0].field(), "body.inertia_kg_m2");
  EXPECT_LT(violations[0].value().size(), 300u);
}

TEST(RuleWalkTest, PutsThePathOfTheWholeBeforeItsFields) {
  v1::Surface surface = test::SampleSurface();
  surface.clear_name();
  Violations violations;
  AddRuleFaults(surface, "surfaces[3]", &violations);
  ASSERT_EQ(violations.size(), 1u);
  EXPECT_EQ(violations[0].field(), "surfaces[3].name");
}

TEST(RuleWalkTest, ListsTheChoicesThatAreKnown) {
  v1::Surface surface = test::SampleSurface();
  surface.set_friction_method(static_cast<v1::FrictionMethod>(9));
  EXPECT_THAT(std::string(ToStatus(CheckSurface(surface)).message()),
              HasSubstr("friction_method is 9; is not one of the known choices; give one of "
                        "FRICTION_METHOD_TILT, FRICTION_METHOD_SLED, "));
}

}  // namespace
}  // namespace gaitshelf::solver
