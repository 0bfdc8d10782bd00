// Cost of transport against a published definition and example.
#include "solver/robot/locomotion.h"

#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

// P / (m g v), the specific resistance of G. Gabrielli, Th. von Karman, "What price speed?",
// Mechanical Engineering 72 (1950) 775-781. A walker of 70 kg who spends 450 W at 6 km/h has a cost
// of about 0.39, an example given in encyclopaedias (secondary source, two digits).
TEST(CostOfTransportReferenceTest, GivesTheWalkersCost) {
  const auto cost = CostOfTransport(
      {.power_w = 450.0, .mass_kg = 70.0, .gravity_m_per_s2 = 9.81, .speed_m_per_s = 6.0 / 3.6});
  ASSERT_THAT(cost, test::IsOk());
  EXPECT_NEAR(*cost, 0.39, 0.005);  // half of the last digit given
  // The same by hand: 450 * 3.6 / (70 * 9.81 * 6) = 1620 / 4120.2.
  EXPECT_NEAR(*cost, 1620.0 / 4120.2, 1e-12);
}

// 10 mW, 2 g, 50 mm/s by hand: 0.01 / (0.002 * 9.81 * 0.05) = 0.01 / 0.000981.
TEST(CostOfTransportReferenceTest, IsAboutTenForACrawlerOfTwoGrams) {
  const auto cost = CostOfTransport(
      {.power_w = 0.01, .mass_kg = 0.002, .gravity_m_per_s2 = 9.81, .speed_m_per_s = 0.05});
  ASSERT_THAT(cost, test::IsOk());
  EXPECT_NEAR(*cost, 10.19367991845, 1e-10);
}

}  // namespace
}  // namespace gaitshelf::solver
