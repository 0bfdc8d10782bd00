// The descriptions in deploy/demo are fit for use and are what they say.
#include <cmath>
#include <fstream>
#include <sstream>
#include <string>
#include <utility>

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "solver/robot/check.h"
#include "solver/robot/leg_form.h"
#include "solver/robot/leg_linkage.h"
#include "tests/support/paths.h"
#include "tests/support/read_description.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using test::IsOk;

std::string ReadDemoFile(const std::string& file) {
  std::ifstream stream(test::SourcePath("deploy/demo/" + file));
  std::ostringstream text;
  text << stream.rdbuf();
  return text.str();
}

// Travel of the lift bimorph's tip per lift of the foot, at rest.
double TipRate(const v1::Leg& leg) {
  if (!leg.has_linkage()) {
    return 1.0 / leg.lumped().lift().transmission_ratio();
  }
  const LegLinkage setup = ReadLegLinkage(leg.linkage()).value();
  ClosedPosture rest;
  EXPECT_THAT(LoopClosure(&setup.linkage).Start(&rest), IsOk());
  return MeasureFootRates(setup, rest).travel(0, 0);
}

class DemoRobotTest : public testing::TestWithParam<const char*> {
 protected:
  static v1::Robot Read() {
    const absl::StatusOr<v1::Robot> robot =
        test::ReadRobotText(ReadDemoFile(std::string(GetParam()) + ".robot.textproto"));
    EXPECT_THAT(robot, IsOk());
    return robot.value_or(v1::Robot());
  }
};

TEST_P(DemoRobotTest, PassesItsCheck) { EXPECT_THAT(ToStatus(CheckRobot(Read())), IsOk()); }

TEST_P(DemoRobotTest, IsNamedAsItsFile) { EXPECT_EQ(Read().name(), GetParam()); }

TEST_P(DemoRobotTest, SaysThatItIsInvented) {
  EXPECT_THAT(Read().title(), testing::HasSubstr("invented"));
}

// Statics: each of n feet carries m g / n; a lift drive pushes with gain * range / 2, seen at the
// foot through the rate of its tip by the foot's lift.
TEST_P(DemoRobotTest, StandsWithAMarginOfTwoAndAHalf) {
  const v1::Robot robot = Read();
  ASSERT_GT(robot.legs_size(), 0);
  const double load_n = TotalMass(robot) * 9.81 / robot.legs_size();
  for (const v1::Leg& leg : robot.legs()) {
    const v1::Bimorph* lift = BimorphOf(leg, 0);
    ASSERT_NE(lift, nullptr);
    const double push_n =
        lift->gain_n_per_v() * (lift->max_v() - lift->bias_v()) * std::abs(TipRate(leg));
    EXPECT_GE(push_n / load_n, 2.5) << leg.name();
  }
}

INSTANTIATE_TEST_SUITE_P(All, DemoRobotTest, testing::Values("weevil", "weevil-lumped", "earwig"));

TEST(DemoMassTest, IsAsStated) {
  for (const auto& [name, mass_kg] : {std::pair("weevil", 1.9e-3),
                                      std::pair("weevil-lumped", 1.9e-3),
                                      std::pair("earwig", 3.4e-3)}) {
    const auto robot = test::ReadRobotText(ReadDemoFile(std::string(name) + ".robot.textproto"));
    ASSERT_THAT(robot, IsOk());
    EXPECT_NEAR(TotalMass(*robot), mass_kg, 1e-15) << name;
  }
}

// The lumped form is the linkage as its feet feel it.
TEST(DemoMassTest, LumpedAndLinkageFormsPushAlike) {
  const auto linkage = test::ReadRobotText(ReadDemoFile("weevil.robot.textproto"));
  const auto lumped = test::ReadRobotText(ReadDemoFile("weevil-lumped.robot.textproto"));
  ASSERT_THAT(linkage, IsOk());
  ASSERT_THAT(lumped, IsOk());
  for (int i = 0; i < 4; ++i) {
    EXPECT_EQ(linkage->legs(i).name(), lumped->legs(i).name());
    EXPECT_NEAR(TipRate(linkage->legs(i)) / TipRate(lumped->legs(i)), 1.0, 0.02);
  }
}

class DemoSurfaceTest : public testing::TestWithParam<const char*> {};

TEST_P(DemoSurfaceTest, PassesItsCheckUnderItsFilesName) {
  const auto surface =
      test::ReadSurfaceText(ReadDemoFile(std::string(GetParam()) + ".surface.textproto"));
  ASSERT_THAT(surface, IsOk());
  EXPECT_THAT(ToStatus(CheckSurface(*surface)), IsOk());
  EXPECT_EQ(surface->name(), GetParam());
  EXPECT_EQ(surface->friction_method(), v1::FRICTION_METHOD_INVENTED);
}

INSTANTIATE_TEST_SUITE_P(All,
                         DemoSurfaceTest,
                         testing::Values("duct-steel", "liner-felt", "grit-tape"));

}  // namespace
}  // namespace gaitshelf::solver
