// The descriptions in deploy/demo are fit for use and are what they say.
#include <cmath>
#include <fstream>
#include <sstream>
#include <string>
#include <utility>

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "solver/robot/check.h"
#include "solver/robot/read.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using test::IsOk;

std::string ReadDemoFile(const std::string& file) {
  std::ifstream stream(std::string(GAITSHELF_SOURCE_DIR "/deploy/demo/") + file);
  std::ostringstream text;
  text << stream.rdbuf();
  return text.str();
}

class DemoRobotTest : public testing::TestWithParam<const char*> {
 protected:
  static v1::Robot Read() {
    const absl::StatusOr<v1::Robot> robot =
        ReadRobotText(ReadDemoFile(std::string(GetParam()) + ".robot.textproto"));
    EXPECT_THAT(robot, IsOk());
    return robot.value_or(v1::Robot());
  }
};

TEST_P(DemoRobotTest, PassesItsCheck) { EXPECT_THAT(ToStatus(CheckRobot(Read())), IsOk()); }

TEST_P(DemoRobotTest, IsNamedAsItsFile) { EXPECT_EQ(Read().name(), GetParam()); }

TEST_P(DemoRobotTest, SaysThatItIsInvented) {
  EXPECT_THAT(Read().title(), testing::HasSubstr("invented"));
}

// Statics: each of n feet carries m g / n; a lift drive can push with gain * range / 2 / ratio.
TEST_P(DemoRobotTest, StandsWithAMarginOfTwoAndAHalf) {
  const v1::Robot robot = Read();
  ASSERT_GT(robot.legs_size(), 0);
  double mass_kg = robot.body().mass_kg();
  for (const v1::Leg& leg : robot.legs()) {
    mass_kg += leg.lumped().foot_mass_kg();
  }
  const double load_n = mass_kg * 9.81 / robot.legs_size();
  for (const v1::Leg& leg : robot.legs()) {
    const v1::LegCoordinate& lift = leg.lumped().lift();
    const double push_n = lift.bimorph().gain_n_per_v() *
                          (lift.bimorph().max_v() - lift.bimorph().bias_v()) /
                          std::abs(lift.transmission_ratio());
    EXPECT_GE(push_n / load_n, 2.5) << leg.name();
  }
}

INSTANTIATE_TEST_SUITE_P(All, DemoRobotTest, testing::Values("weevil", "earwig"));

TEST(DemoMassTest, IsAsStated) {
  for (const auto& [name, mass_kg] : {std::pair("weevil", 1.9e-3), std::pair("earwig", 3.4e-3)}) {
    const auto robot = ReadRobotText(ReadDemoFile(std::string(name) + ".robot.textproto"));
    ASSERT_THAT(robot, IsOk());
    double sum_kg = robot->body().mass_kg();
    for (const v1::Leg& leg : robot->legs()) {
      sum_kg += leg.lumped().foot_mass_kg();
    }
    EXPECT_NEAR(sum_kg, mass_kg, 1e-15) << name;
  }
}

class DemoSurfaceTest : public testing::TestWithParam<const char*> {};

TEST_P(DemoSurfaceTest, PassesItsCheckUnderItsFilesName) {
  const auto surface =
      ReadSurfaceText(ReadDemoFile(std::string(GetParam()) + ".surface.textproto"));
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
