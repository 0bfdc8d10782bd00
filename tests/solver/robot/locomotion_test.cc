#include "solver/robot/locomotion.h"

#include <cmath>

#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using test::HasStatus;
using testing::AllOf;
using testing::HasSubstr;

TEST(FroudeNumberTest, DoesNotDependOnTheDirectionOfTravel) {
  const auto forward =
      FroudeNumber({.speed_m_per_s = 0.2, .gravity_m_per_s2 = 9.81, .hip_height_m = 0.01});
  const auto backward =
      FroudeNumber({.speed_m_per_s = -0.2, .gravity_m_per_s2 = 9.81, .hip_height_m = 0.01});
  ASSERT_THAT(forward, test::IsOk());
  ASSERT_THAT(backward, test::IsOk());
  EXPECT_EQ(*forward, *backward);
}

TEST(FroudeNumberTest, NamesAllFaults) {
  EXPECT_THAT(
      FroudeNumber({.speed_m_per_s = std::nan(""), .gravity_m_per_s2 = -9.81, .hip_height_m = 0.0}),
      HasStatus(absl::StatusCode::kInvalidArgument,
                AllOf(HasSubstr("speed_m_per_s is nan; "),
                      HasSubstr("gravity_m_per_s2 is -9.81; "),
                      HasSubstr("hip_height_m is 0; "))));
}

TEST(CostOfTransportTest, IsNotDefinedForARobotThatStands) {
  EXPECT_THAT(
      CostOfTransport(
          {.power_w = 0.01, .mass_kg = 0.002, .gravity_m_per_s2 = 9.81, .speed_m_per_s = 0.0}),
      HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("speed_m_per_s is 0; ")));
}

}  // namespace
}  // namespace gaitshelf::solver
