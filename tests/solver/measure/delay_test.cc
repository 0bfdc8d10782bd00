#include "solver/measure/delay.h"

#include <cmath>
#include <numbers>
#include <random>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace gaitshelf::solver {
namespace {

constexpr double kPeriodS = 1e-3;

// Three tones without a common period, in a window that starts and ends at rest.
double Signal(double time_s, double length_s) {
  if (time_s <= 0.0 || time_s >= length_s) {
    return 0.0;
  }
  const double window = std::pow(std::sin(std::numbers::pi * time_s / length_s), 2);
  const double turn = 2.0 * std::numbers::pi * time_s;
  return window *
         (std::sin(3.7 * turn) + 0.6 * std::sin(7.9 * turn + 1.0) + 0.4 * std::sin(13.3 * turn));
}

struct Pair {
  std::vector<double> reference;
  std::vector<double> delayed;
};

Pair MakePair(double delay_s, double noise, unsigned rng, int count = 2000) {
  std::mt19937 generator(rng);
  std::normal_distribution<double> normal(0.0, 1.0);
  Pair pair;
  for (int i = 0; i < count; ++i) {
    pair.reference.push_back(Signal(i * kPeriodS, count * kPeriodS));
    // Another scale and offset, as the other sensor has.
    pair.delayed.push_back(
        0.3 + 2.0 * (Signal(i * kPeriodS - delay_s, count * kPeriodS) + noise * normal(generator)));
  }
  return pair;
}

v1::DelayEstimate Estimate(const Pair& pair, double greatest_delay_s = 0.0) {
  return EstimateDelay({.reference = pair.reference,
                        .delayed = pair.delayed,
                        .sample_period_s = kPeriodS,
                        .greatest_delay_s = greatest_delay_s});
}

Pair MakeTone(double frequency_hz, double delay_s, int count = 4000) {
  Pair pair;
  for (int i = 0; i < count; ++i) {
    pair.reference.push_back(std::sin(2.0 * std::numbers::pi * frequency_hz * i * kPeriodS));
    pair.delayed.push_back(
        std::sin(2.0 * std::numbers::pi * frequency_hz * (i * kPeriodS - delay_s)));
  }
  return pair;
}

TEST(DelayTest, FindsDelaysOfBothSignsToAFractionOfASample) {
  for (const double delay_s : {-0.0204, 0.0, 0.0003, 0.0073, 0.0421}) {
    const v1::DelayEstimate estimate = Estimate(MakePair(delay_s, 0.0, 1));
    ASSERT_EQ(estimate.outcome(), v1::DELAY_OUTCOME_FOUND) << estimate.reason();
    // 2 us: the parabola's own error for tones far below the sample rate.
    EXPECT_NEAR(estimate.delay_s(), delay_s, 2e-6);
    EXPECT_GT(estimate.correlation_ratio(), 0.999);
  }
}

// The interval of two standard uncertainties holds the truth as often as it says. 200 draws: 95 %
// of them within three standard deviations are 181 to 199.
TEST(DelayTest, UncertaintyCoversTheTruth) {
  int covered_count = 0;
  double squares_s2 = 0.0, stated_s2 = 0.0;
  constexpr int kDraws = 200;
  for (unsigned rng = 0; rng < kDraws; ++rng) {
    const v1::DelayEstimate estimate = Estimate(MakePair(0.0073, 0.1, rng), 0.05);
    const double error_s = estimate.delay_s() - 0.0073;
    covered_count += std::abs(error_s) < 1.96 * estimate.uncertainty_s() ? 1 : 0;
    squares_s2 += error_s * error_s;
    stated_s2 += estimate.uncertainty_s() * estimate.uncertainty_s();
  }
  EXPECT_GE(covered_count, 181);
  EXPECT_LE(covered_count, 199);
  EXPECT_NEAR(std::sqrt(stated_s2 / squares_s2), 1.0, 0.15);
}

TEST(DelayTest, RefusesAPureTone) {
  for (const double frequency_hz : {12.0, 3.0, 0.9}) {
    const v1::DelayEstimate estimate = Estimate(MakeTone(frequency_hz, 0.0073));
    EXPECT_EQ(estimate.outcome(), v1::DELAY_OUTCOME_AMBIGUOUS) << frequency_hz;
    EXPECT_THAT(estimate.reason(), testing::HasSubstr("alike"));
    EXPECT_FALSE(estimate.rival_s().empty());
  }
}

TEST(DelayTest, AToneIsUniqueWhenTheDelayIsKnownToBeLessThanAPeriod) {
  const v1::DelayEstimate estimate = Estimate(MakeTone(12.0, 0.0073), 0.06);
  ASSERT_EQ(estimate.outcome(), v1::DELAY_OUTCOME_FOUND) << estimate.reason();
  EXPECT_NEAR(estimate.delay_s(), 0.0073, 2e-6);
  // More than a period: there is a choice again.
  EXPECT_EQ(Estimate(MakeTone(12.0, 0.0073), 0.12).outcome(), v1::DELAY_OUTCOME_AMBIGUOUS);
}

TEST(DelayTest, FindsNothingInNoise) {
  const v1::DelayEstimate estimate = Estimate(MakePair(0.0073, 1e3, 1));
  EXPECT_EQ(estimate.outcome(), v1::DELAY_OUTCOME_NOT_FOUND);
  EXPECT_THAT(estimate.reason(), testing::HasSubstr("correlation"));
}

TEST(DelayTest, FindsNothingBeyondWhatIsPossible) {
  const v1::DelayEstimate estimate = Estimate(MakePair(0.05, 0.0, 1), 0.035);
  EXPECT_EQ(estimate.outcome(), v1::DELAY_OUTCOME_NOT_FOUND);
  EXPECT_THAT(estimate.reason(), testing::HasSubstr("at the end"));
}

TEST(DelayTest, NeedsARecord) {
  EXPECT_THAT(Estimate(MakePair(0.0, 0.0, 1, 20)).reason(), testing::HasSubstr("20 samples"));
  Pair uneven = MakePair(0.0, 0.0, 1);
  uneven.delayed.pop_back();
  EXPECT_EQ(Estimate(uneven).outcome(), v1::DELAY_OUTCOME_NOT_FOUND);
  Pair still = MakePair(0.0, 0.0, 1);
  still.delayed.assign(still.delayed.size(), 1.0);
  EXPECT_EQ(Estimate(still).outcome(), v1::DELAY_OUTCOME_NOT_FOUND);
}

}  // namespace
}  // namespace gaitshelf::solver
