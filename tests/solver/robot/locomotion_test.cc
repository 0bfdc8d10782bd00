#include "solver/robot/locomotion.h"

#include <cmath>

#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using test::HasStatus;
using testing::AllOf;
using testing::HasSubstr;

TEST(CostOfTransportTest, NamesAllFaults) {
  EXPECT_THAT(CostOfTransport({.power_w = std::nan(""),
                               .mass_kg = 0.0,
                               .gravity_m_per_s2 = -9.81,
                               .speed_m_per_s = 0.05}),
              HasStatus(absl::StatusCode::kInvalidArgument,
                        AllOf(HasSubstr("power_w is nan; "),
                              HasSubstr("mass_kg is 0; "),
                              HasSubstr("gravity_m_per_s2 is -9.81; "))));
}

TEST(CostOfTransportTest, IsNotDefinedForARobotThatStands) {
  EXPECT_THAT(
      CostOfTransport(
          {.power_w = 0.01, .mass_kg = 0.002, .gravity_m_per_s2 = 9.81, .speed_m_per_s = 0.0}),
      HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("speed_m_per_s is 0; ")));
}

}  // namespace
}  // namespace gaitshelf::solver
