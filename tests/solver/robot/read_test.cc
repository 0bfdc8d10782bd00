#include "solver/robot/read.h"

#include <string>

#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using test::HasStatus;
using testing::StrEq;

TEST(ReadTest, TellsEveryFaultWithItsPlaceAndMend) {
  EXPECT_THAT(
      ReadSurfaceText("name: \"felt\"\n"
                      "  friction: 0.4\n"
                      "slope_rad: \"steep\"\n"
                      "friction_method: FRICTION_METHOD_TILTED\n"),
      HasStatus(absl::StatusCode::kInvalidArgument,
                StrEq("line 2, column 3: friction is unknown; is not a field of Surface; "
                      "write friction_coefficient; give a plain number: 18 % is 0.18\n"
                      "line 3, column 12: slope_rad is \"steep\"; must be a number; give "
                      "radians: 5 degrees are 0.0873\n"
                      "line 4, column 18: friction_method is FRICTION_METHOD_TILTED; is not "
                      "one of the known choices; write FRICTION_METHOD_TILT")));
}

TEST(ReadTest, ReadsARobotAndASurface) {
  const auto robot = ReadRobotText("name: \"point\" body { mass_kg: 1e-3 }");
  ASSERT_THAT(robot, test::IsOk());
  EXPECT_EQ(robot->body().mass_kg(), 1e-3);
  const auto surface = ReadSurfaceText("friction_coefficient: 0");
  ASSERT_THAT(surface, test::IsOk());
  EXPECT_TRUE(surface->has_friction_coefficient());
}

}  // namespace
}  // namespace gaitshelf::solver
