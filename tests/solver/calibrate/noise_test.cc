#include "solver/calibrate/noise.h"

#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include <gtest/gtest.h>

namespace gaitshelf::solver {
namespace {

// Values that each keep a share of the one before.
std::vector<double> Drift(double kept, int count) {
  std::mt19937 generator(3);
  std::normal_distribution<double> normal;
  std::vector<double> values;
  double value = 0.0;
  for (int i = 0; i < count; ++i) {
    value = kept * value + std::sqrt(1.0 - kept * kept) * normal(generator);
    values.push_back(2.0 * value);
  }
  return values;
}

TEST(NoiseTest, WhiteNoiseCountsValueByValue) {
  const Noise noise = MeasureNoise(Drift(0.0, 20000));
  EXPECT_NEAR(noise.deviation, 2.0, 0.05);
  EXPECT_NEAR(noise.run_length, 1.0, 0.1);
  EXPECT_EQ(noise.count, 20000u);
}

// The variance of the mean of such values is (1 + r) / (1 - r) times that of independent ones (own
// derivation, sum of a geometric series).
TEST(NoiseTest, DriftCountsByItsRunLength) {
  const Noise noise = MeasureNoise(Drift(0.8, 20000));
  EXPECT_NEAR(noise.run_length, 9.0, 1.5);
  EXPECT_NEAR(noise.WeighingDeviation(), 2.0 * 3.0, 0.6);
}

TEST(NoiseTest, MissingValuesDoNotCount) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const Noise noise = MeasureNoise({1.0, nan, -1.0});
  EXPECT_EQ(noise.count, 2u);
  EXPECT_DOUBLE_EQ(noise.deviation, 1.0);
  EXPECT_EQ(MeasureNoise({nan}).count, 0u);
  EXPECT_EQ(MeasureNoise({0.0, 0.0}).deviation, 0.0);
}

// Points of the t distribution, from memory of the usual tables.
TEST(NoiseTest, HalfWidthIsStudents) {
  EXPECT_NEAR(StudentHalfWidth(1.0), 12.706, 1e-3);
  EXPECT_NEAR(StudentHalfWidth(2.0), 4.303, 1e-3);
  EXPECT_NEAR(StudentHalfWidth(3.0), 3.182, 0.03);
  EXPECT_NEAR(StudentHalfWidth(5.0), 2.571, 5e-3);
  EXPECT_NEAR(StudentHalfWidth(10.0), 2.228, 1e-3);
  EXPECT_NEAR(StudentHalfWidth(30.0), 2.042, 1e-3);
  EXPECT_NEAR(StudentHalfWidth(std::numeric_limits<double>::infinity()), 1.96, 1e-4);
}

}  // namespace
}  // namespace gaitshelf::solver
