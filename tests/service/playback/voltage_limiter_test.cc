#include "service/playback/voltage_limiter.h"

#include <cmath>
#include <limits>
#include <random>

#include <gtest/gtest.h>

namespace gaitshelf::service {
namespace {

v1::Bimorph MakeBimorph(double slew_v_per_s) {
  v1::Bimorph bimorph;
  bimorph.set_min_v(-50.0);
  bimorph.set_max_v(250.0);
  bimorph.set_bias_v(100.0);
  bimorph.set_slew_v_per_s(slew_v_per_s);
  return bimorph;
}

TEST(VoltageLimiterTest, FollowsATargetWithinReach) {
  VoltageLimiter limiter(MakeBimorph(1e5), 0.001, 0);
  EXPECT_TRUE(limiter.is_at_rest());
  EXPECT_DOUBLE_EQ(limiter.Next(150.0), 150.0);
  EXPECT_FALSE(limiter.is_at_rest());
  EXPECT_DOUBLE_EQ(limiter.Next(100.0), 100.0);
  EXPECT_TRUE(limiter.is_at_rest());
}

TEST(VoltageLimiterTest, TakesAValueThatIsNoNumberAsRest) {
  VoltageLimiter limiter(MakeBimorph(1e6), 0.001, 0);
  limiter.Next(200.0);
  EXPECT_DOUBLE_EQ(limiter.Next(std::numeric_limits<double>::quiet_NaN()), 100.0);
  EXPECT_DOUBLE_EQ(limiter.Next(std::numeric_limits<double>::infinity()), 100.0);
}

// Whatever is asked, with and without a converter.
TEST(VoltageLimiterTest, NeverLeavesRangeOrRate) {
  std::mt19937 random(7);
  std::uniform_real_distribution<double> target_v(-2000.0, 2000.0);
  for (const int bits : {0, 8, 12}) {
    for (const double slew_v_per_s : {2e3, 1.7e4, 1e9}) {
      VoltageLimiter limiter(MakeBimorph(slew_v_per_s), 0.001, bits);
      ASSERT_TRUE(limiter.can_move());
      double last_v = limiter.rest_v();
      for (int i = 0; i < 5000; ++i) {
        const double v = limiter.Next(target_v(random) / (1 + i % 20));
        ASSERT_GE(v, -50.0);
        ASSERT_LE(v, 250.0);
        ASSERT_LE(std::abs(v - last_v), slew_v_per_s * 0.001);
        last_v = v;
      }
    }
  }
}

TEST(VoltageLimiterTest, ReachesItsTargetAndItsRest) {
  for (const int bits : {0, 8, 16}) {
    VoltageLimiter limiter(MakeBimorph(2e3), 0.001, bits);
    const double wanted_v = VoltageQuantiser(-50.0, 250.0, bits).Round(231.0);
    for (int i = 0; i < 200; ++i) {
      limiter.Next(231.0);
    }
    EXPECT_EQ(limiter.Next(231.0), wanted_v);
    for (int i = 0; i < 200; ++i) {
      limiter.Next(limiter.rest_v());
    }
    EXPECT_TRUE(limiter.is_at_rest());
  }
}

TEST(VoltageLimiterTest, CannotMoveWhenAStepIsBeyondItsReach) {
  // 300 V / 2^8 = 1.17 V; 1 V/ms at 1 kHz is 1 V.
  EXPECT_FALSE(VoltageLimiter(MakeBimorph(1e3), 0.001, 8).can_move());
  EXPECT_TRUE(VoltageLimiter(MakeBimorph(1e3), 0.001, 9).can_move());
}

TEST(VoltageQuantiserTest, KeepsValuesOutsideInTheLastStep) {
  const VoltageQuantiser quantiser(0.0, 256.0, 8);
  EXPECT_DOUBLE_EQ(quantiser.step_v(), 1.0);
  EXPECT_DOUBLE_EQ(quantiser.Round(-3.0), 0.5);
  EXPECT_DOUBLE_EQ(quantiser.Round(256.0), 255.5);
  EXPECT_DOUBLE_EQ(quantiser.Round(100.2), 100.5);
}

}  // namespace
}  // namespace gaitshelf::service
