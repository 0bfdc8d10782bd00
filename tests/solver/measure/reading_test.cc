#include "solver/measure/reading.h"

#include <cmath>
#include <numbers>
#include <vector>

#include <gtest/gtest.h>

#include "solver/base/constants.h"

namespace gaitshelf::solver {
namespace {

Channel MakeChannel(const std::vector<double>* time_s, const std::vector<double>* values) {
  return {.time_s = time_s, .values = values, .interval_s = 1.0};
}

TEST(ReadingTest, IsLinearBetweenSamplesInAnyOrderOfCalls) {
  const std::vector<double> time_s = {0.0, 1.0, 2.0, 3.0};
  const std::vector<double> values = {0.0, 10.0, 0.0, 5.0};
  Reading reading(MakeChannel(&time_s, &values), {.shift_s = 0.5});
  EXPECT_DOUBLE_EQ(reading.At(0.0), 5.0);  // own time 0.5
  EXPECT_DOUBLE_EQ(reading.At(1.75), 1.25);
  EXPECT_DOUBLE_EQ(reading.At(-0.25), 2.5);
  EXPECT_DOUBLE_EQ(reading.At(2.5), 5.0);
  EXPECT_TRUE(std::isnan(reading.At(2.6)));
  EXPECT_TRUE(std::isnan(reading.At(-0.6)));
  EXPECT_DOUBLE_EQ(reading.first_s(), -0.5);
  EXPECT_DOUBLE_EQ(reading.last_s(), 2.5);
}

TEST(ReadingTest, BridgesShortGapsOnly) {
  const std::vector<double> time_s = {0.0, 1.0, 2.0, 3.0, 13.0, 14.0, 15.0, 16.0, 17.0, 18.0, 19.0};
  const std::vector<double> values = {
      0.0, kNan, 2.0, 3.0, 13.0, kNan, kNan, kNan, kNan, kNan, 19.0};
  Reading reading(MakeChannel(&time_s, &values), {});
  EXPECT_DOUBLE_EQ(reading.At(1.0), 1.0);
  EXPECT_DOUBLE_EQ(reading.At(1.5), 1.5);
  EXPECT_TRUE(std::isnan(reading.At(8.0)));   // rows dropped
  EXPECT_TRUE(std::isnan(reading.At(16.0)));  // samples missing
  EXPECT_DOUBLE_EQ(reading.At(13.0), 13.0);
}

TEST(ReadingTest, AnglesGoTheShorterWay) {
  const std::vector<double> time_s = {0.0, 1.0};
  const std::vector<double> values = {3.0, -3.0};
  Reading reading(MakeChannel(&time_s, &values), {.is_angle = true});
  EXPECT_NEAR(reading.At(0.5), std::numbers::pi, 1e-12);
}

TEST(ReadingTest, AnEmptyOneHasNoValue) {
  Reading reading;
  EXPECT_FALSE(reading);
  EXPECT_EQ(reading.row_count(), 0U);
  EXPECT_TRUE(std::isnan(reading.At(0.0)));
}

}  // namespace
}  // namespace gaitshelf::solver
