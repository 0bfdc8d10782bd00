#include "service/playback/fade.h"

#include <cmath>

#include <gtest/gtest.h>

namespace gaitshelf::service {
namespace {

TEST(FadeTest, GoesFromRestToRestByTheKnownQuintic) {
  const Fade fade({}, 1.0, 2.0);
  // 10 s^3 - 15 s^4 + 6 s^5 by hand: s = 1/4 gives 53/512, s = 1/2 gives 1/2 with slope 15/8.
  EXPECT_NEAR(fade.At(0.5).ratio, 53.0 / 512.0, 1e-15);
  EXPECT_NEAR(fade.At(1.0).ratio, 0.5, 1e-15);
  EXPECT_NEAR(fade.At(1.0).rate_per_s, 1.875 / 2.0, 1e-15);
  EXPECT_EQ(fade.At(2.0).ratio, 1.0);
  EXPECT_EQ(fade.At(9.0).rate_per_s, 0.0);
  EXPECT_EQ(fade.At(-1.0).ratio, 0.0);
}

TEST(FadeTest, RateAndAccelerationAreDerivatives) {
  const Fade fade(Fade({}, 1.0, 0.5).At(0.2), 0.0, 0.7);
  const double h = 1e-5;
  for (double t = 0.05; t < 0.65; t += 0.05) {
    EXPECT_NEAR(
        (fade.At(t + h).ratio - fade.At(t - h).ratio) / (2.0 * h), fade.At(t).rate_per_s, 1e-7);
    EXPECT_NEAR((fade.At(t + h).rate_per_s - fade.At(t - h).rate_per_s) / (2.0 * h),
                fade.At(t).acceleration_per_s2,
                1e-5);
  }
}

TEST(FadeTest, TurnsAroundAnywhereWithoutJumpOvershootOrMoreThanTheGreatestSlope) {
  const double duration_s = 0.5;
  const Fade up({}, 1.0, duration_s);
  double greatest = 0.0;
  for (int place = 0; place <= 200; ++place) {
    const Fade::Value start = up.At(place * duration_s / 200.0);
    const Fade down(start, 0.0, duration_s);
    EXPECT_DOUBLE_EQ(down.At(0.0).ratio, start.ratio);
    EXPECT_NEAR(down.At(0.0).rate_per_s, start.rate_per_s, 1e-12);
    EXPECT_NEAR(down.At(0.0).acceleration_per_s2, start.acceleration_per_s2, 1e-10);
    for (int i = 0; i <= 1000; ++i) {
      const Fade::Value value = down.At(i * duration_s / 1000.0);
      greatest = std::max(greatest, std::abs(value.rate_per_s) * duration_s);
      EXPECT_GE(value.ratio, 0.0);
      EXPECT_LE(value.ratio, 1.0);
    }
    EXPECT_EQ(down.At(duration_s).ratio, 0.0);
  }
  EXPECT_LE(greatest, Fade::kGreatestSlope);
  EXPECT_GE(greatest, Fade::kGreatestSlope - 1e-3);
}

}  // namespace
}  // namespace gaitshelf::service
