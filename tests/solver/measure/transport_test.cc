#include "solver/measure/transport.h"

#include <optional>

#include <gtest/gtest.h>

#include "solver/base/constants.h"
#include "tests/solver/measure/walker.h"
#include "tests/support/gaits.h"
#include "tests/support/robots.h"

namespace gaitshelf::solver {
namespace {

std::optional<double> CostOf(const v1::Robot& robot, const v1::Gait& gait) {
  return PlannedChargingCost(
      gait,
      PlannedCycle::Create({.robot = robot, .surface = test::MakeSurface(0.5), .gait = gait})
          .value());
}

// Own derivation: a sine of 50 V about 100 V loads each of eight drives from 50 to 150 V once a
// cycle, which takes C / 2 (150^2 - 50^2); the frequency does not matter.
TEST(PlannedChargingCostTest, IsWhatLoadingTheDrivesTakes) {
  const v1::Robot robot = test::MakeCharged(2e-9);
  double mass_kg = robot.body().mass_kg();
  for (const v1::Leg& leg : robot.legs()) {
    mass_kg += leg.lumped().foot_mass_kg();
  }
  const double cost =
      8.0 * 0.5 * 2e-9 * (150.0 * 150.0 - 50.0 * 50.0) / (mass_kg * kGravityMPerS2 * 0.008);
  for (const double frequency_hz : {5.0, 20.0}) {
    const auto planned = CostOf(robot, test::MakeSineGait(robot, {.frequency_hz = frequency_hz}));
    ASSERT_TRUE(planned.has_value());
    EXPECT_NEAR(*planned, cost, 1e-9 * cost);
  }
}

TEST(PlannedChargingCostTest, NeedsCapacitancesAndADisplacement) {
  const v1::Robot robot = test::MakeCharged(2e-9);
  EXPECT_FALSE(CostOf(robot, test::MakeSineGait(robot, {.advance_m = 0.0})).has_value());
  const v1::Robot undescribed = test::MakeQuadruped();
  EXPECT_FALSE(CostOf(undescribed, test::MakeSineGait(undescribed, {})).has_value());
}

}  // namespace
}  // namespace gaitshelf::solver
