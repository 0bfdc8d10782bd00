#include "tests/bench/replanned_strides.h"

#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace gaitshelf::bench {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using testing::Not;

TEST(ReplannedStridesTest, ComparesTheNewGaitWithTheFirst) {
  const ReplannedFigures figures =
      FiguresOf({{0.010, 0.011}, {0.010, 0.009}, {0.008, 0.010}}, /*asked_m=*/0.0);
  EXPECT_EQ(figures.robot_count, 3);
  EXPECT_EQ(figures.further_count, 2);
  EXPECT_NEAR(figures.median_gain_ratio, 0.1, 1e-12);
  EXPECT_NEAR(figures.lower_quartile_gain_ratio, -0.1, 1e-12);
  EXPECT_EQ(figures.nearer_count, 0);
  EXPECT_THAT(FiguresText(figures), AllOf(HasSubstr("median +10.00 %"), Not(HasSubstr("asked"))));
}

TEST(ReplannedStridesTest, CountsFallsOfEachAndDividesByNone) {
  const ReplannedFigures figures =
      FiguresOf({{0.0, 0.010}, {0.010, 0.0}, {0.0, 0.0}, {0.010, 0.012}}, /*asked_m=*/0.0);
  EXPECT_EQ(figures.first_fell_count, 2);
  EXPECT_EQ(figures.new_fell_count, 2);
  EXPECT_EQ(figures.further_count, 2);
  // Of the gains -1 and 0.2 the median is the lower.
  EXPECT_NEAR(figures.median_gain_ratio, -1.0, 1e-12);
  EXPECT_NEAR(figures.upper_quartile_gain_ratio, -1.0, 1e-12);
  EXPECT_TRUE(std::isnan(FiguresOf({{0.0, 0.010}}, 0.0).median_gain_ratio));
  EXPECT_TRUE(std::isnan(FiguresOf({}, 0.0).median_gain_ratio));
}

TEST(ReplannedStridesTest, SaysHowFarStridesAreOffWhatWasAsked) {
  const ReplannedFigures figures =
      FiguresOf({{0.011, 0.0095}, {0.008, 0.0101}, {0.010, 0.0}}, /*asked_m=*/0.010);
  EXPECT_EQ(figures.nearer_count, 2);
  EXPECT_NEAR(figures.first_median_off_ratio, 0.1, 1e-12);
  // A gait that falls is off by all of it.
  EXPECT_NEAR(figures.new_median_off_ratio, 0.05, 1e-12);
  EXPECT_THAT(FiguresText(figures),
              HasSubstr("off the asked 10.00 mm: first 10.00 %, new 5.00 % in the median, 2 of 3"));
}

TEST(ReplannedStridesTest, TellsOfOneRobotInWords) {
  EXPECT_EQ(StridesText({0.008, 0.010}), "first 8.00 mm, new 10.00 mm, +25.0 %");
  EXPECT_EQ(StridesText({0.0, 0.010}), "first falls, new 10.00 mm");
}

TEST(ReplannedStridesTest, AddsMembersToAReport) {
  const std::vector<Strides> strides = {{0.0, 0.010}};
  Json report = Json::Object();
  SetFigures(FiguresOf(strides, /*asked_m=*/0.0), strides, &report);
  EXPECT_THAT(report.Text(),
              AllOf(HasSubstr("\"first_fell_count\": 1"),
                    HasSubstr("\"median_gain_ratio\": null"),
                    HasSubstr("\"new_m\": 0.01"),
                    Not(HasSubstr("asked_m"))));
  SetFigures(FiguresOf(strides, /*asked_m=*/0.009), strides, &report);
  EXPECT_THAT(report.Text(), HasSubstr("\"nearer_count\": 1"));
}

}  // namespace
}  // namespace gaitshelf::bench
