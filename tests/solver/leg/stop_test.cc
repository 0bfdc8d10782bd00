#include "solver/leg/stop.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace gaitshelf::solver {
namespace {

TEST(StopPotentialTest, IsTwiceContinuouslyDifferentiable) {
  constexpr double kTiny = 1e-9;
  for (const double depth : {0.0, 0.1}) {
    const std::array<double, 3> below = StopPotential(depth - kTiny, 5.0, 0.1);
    const std::array<double, 3> above = StopPotential(depth + kTiny, 5.0, 0.1);
    for (size_t i = 0; i < 3; ++i) {
      EXPECT_NEAR(below[i], above[i], 1e-6);
    }
  }
}

TEST(AddStopsTest, PushBackAtBothEnds) {
  const StoppedTravel travel{-1.0, 1.0, 5.0};
  LegEvaluation at{};
  AddStops(travel, 1.5, 0, &at);
  EXPECT_GT(at.first[0][LegFunction::kPotential], 0.0);
  AddStops(travel, -1.5, 1, &at);
  EXPECT_EQ(at.first[1][LegFunction::kPotential], -at.first[0][LegFunction::kPotential]);
  EXPECT_EQ(at.second[1][LegFunction::kPotential], 5.0);
}

}  // namespace
}  // namespace gaitshelf::solver
