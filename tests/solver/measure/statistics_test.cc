#include "solver/measure/statistics.h"

#include <cmath>
#include <vector>

#include <gtest/gtest.h>

#include "solver/base/constants.h"

namespace gaitshelf::solver {
namespace {

TEST(StatisticsTest, SummarizesFiniteValues) {
  const v1::MeasuredFigure figure = Summarize(std::vector<double>{1.0, kNan, 2.0, 6.0});
  EXPECT_DOUBLE_EQ(figure.mean_si(), 3.0);
  EXPECT_DOUBLE_EQ(figure.deviation_si(), std::sqrt((4.0 + 1.0 + 9.0) / 2.0));
  EXPECT_EQ(figure.count(), 3);
  EXPECT_DOUBLE_EQ(figure.uncertainty_si(), figure.deviation_si() / std::sqrt(3.0));
}

TEST(StatisticsTest, NothingAndOneValueHaveNoSpread) {
  EXPECT_EQ(Summarize(std::vector<double>{kNan}).count(), 0);
  const v1::MeasuredFigure one = Summarize(std::vector<double>{5.0});
  EXPECT_EQ(one.mean_si(), 5.0);
  EXPECT_EQ(one.deviation_si(), 0.0);
  EXPECT_EQ(SummarizePhases({}).count(), 0);
}

// The arithmetic mean of 0.95 and 0.05 is 0.5: the far side of the circle.
TEST(StatisticsTest, MeanPhaseGoesAroundTheEndOfTheCycle) {
  const v1::CircularFigure figure = SummarizePhases(std::vector<double>{0.95, 0.07, kNan});
  EXPECT_NEAR(figure.mean_ratio(), 0.01, 1e-12);
  EXPECT_NEAR(figure.resultant_ratio(), std::cos(2.0 * M_PI * 0.06), 1e-12);
  EXPECT_EQ(figure.count(), 2);
}

// For small scatter the circular deviation is the ordinary one (with n in the denominator).
TEST(StatisticsTest, SmallScatterHasTheOrdinaryDeviation) {
  const v1::CircularFigure figure = SummarizePhases(std::vector<double>{0.299, 0.300, 0.301});
  EXPECT_NEAR(figure.deviation_ratio(), std::sqrt(2e-6 / 3.0), 1e-8);
}

// scipy.stats.circmean and circstd of the same five numbers with high=1 (SciPy 1.10.1).
TEST(StatisticsTest, AgreesWithSciPy) {
  const v1::CircularFigure figure =
      SummarizePhases(std::vector<double>{0.9, 0.02, 0.11, 0.97, 0.3});
  EXPECT_NEAR(figure.mean_ratio(), 0.044815045400279085, 1e-12);
  EXPECT_NEAR(figure.deviation_ratio(), 0.14095225206172884, 1e-12);
}

TEST(StatisticsTest, WrapsPhases) {
  EXPECT_DOUBLE_EQ(WrapPhase(1.25), 0.25);
  EXPECT_DOUBLE_EQ(WrapPhase(-0.25), 0.75);
  EXPECT_EQ(WrapPhase(-1e-20), 0.0);
}

}  // namespace
}  // namespace gaitshelf::solver
