#include "service/playback/sampling.h"

#include <cmath>
#include <numbers>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/gaits.h"
#include "tests/support/robots.h"

namespace gaitshelf::service {
namespace {

std::vector<double> Sine(int sample_count, int harmonic, double amplitude) {
  std::vector<double> samples;
  for (int i = 0; i < sample_count; ++i) {
    samples.push_back(amplitude *
                      std::sin(2.0 * std::numbers::pi * harmonic * i / sample_count + 0.3));
  }
  return samples;
}

TEST(HighestContentTest, IsTheFrequencyOfASine) {
  for (const int harmonic : {1, 2, 7, 20}) {
    // 40 samples of 1 ms: the period is 40 ms.
    EXPECT_DOUBLE_EQ(HighestContentHz(Sine(40, harmonic, 2.0), 0.001, true, 0.01), harmonic * 25.0);
  }
}

TEST(HighestContentTest, LeavesOutWhatIsBelowTheTail) {
  std::vector<double> samples = Sine(40, 1, 1.0);
  const std::vector<double> small = Sine(40, 9, 0.0099);
  const std::vector<double> large = Sine(40, 5, 0.02);
  for (std::size_t i = 0; i < samples.size(); ++i) {
    samples[i] += small[i] + large[i];
  }
  EXPECT_DOUBLE_EQ(HighestContentHz(samples, 0.001, true, 0.01), 5 * 25.0);
}

TEST(HighestContentTest, IsZeroForAConstantOrNothing) {
  EXPECT_EQ(HighestContentHz(std::vector<double>(33, 123.4), 0.001, true, 0.01), 0.0);
  EXPECT_EQ(HighestContentHz({}, 0.001, true, 0.01), 0.0);
  EXPECT_EQ(HighestContentHz({1.0}, 0.001, false, 0.01), 0.0);
}

TEST(HighestContentTest, MirrorsWhatHasNoPeriod) {
  std::vector<double> samples;
  for (int i = 0; i <= 20; ++i) {
    samples.push_back(std::cos(std::numbers::pi * i / 20));  // half a period in 20 ms
  }
  EXPECT_DOUBLE_EQ(HighestContentHz(samples, 0.001, false, 0.01), 25.0);
}

TEST(LeastSampleRateTest, IsTwiceTheContentOfTheLegs) {
  const v1::Gait gait =
      test::MakeSineGait(test::MakeQuadruped(), {.frequency_hz = 12.0, .harmonic = 3});
  EXPECT_DOUBLE_EQ(ContentOf(gait).leg_position_hz, 36.0);
  EXPECT_DOUBLE_EQ(ContentOf(gait).voltage_hz, 36.0);
  EXPECT_DOUBLE_EQ(LeastSampleRateHz(gait), 72.0);
}

TEST(LegLineErrorTest, IsTheVersineOfASine) {
  const v1::Gait gait = test::MakeSineGait(
      test::MakeQuadruped(), {.frequency_hz = 10.0, .harmonic = 2, .amplitude_m = 0.003});
  // 1 kHz on 20 Hz: 50 samples per period.
  EXPECT_NEAR(LegLineErrorM(gait, 1000.0), 0.003 * LinearInterpolationErrorRatio(50.0), 1e-12);
  EXPECT_NEAR(LegLineErrorM(gait, 1.0), 0.006, 1e-12);  // never more than twice the amplitude
}

}  // namespace
}  // namespace gaitshelf::service
