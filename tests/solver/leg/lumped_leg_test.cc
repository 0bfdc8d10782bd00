#include "solver/leg/lumped_leg.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/robots.h"

namespace gaitshelf::solver {
namespace {

using F = LegFunction;

v1::LumpedLeg AskewLeg() {
  v1::LumpedLeg leg = test::MakeHexapod().legs(1).lumped();
  return leg;
}

Scale SmallScale() {
  Scale scale;
  scale.length_m = 0.011;
  scale.mass_kg = 1.9e-3;
  scale.time_s = 0.0335;
  return scale;
}

TEST(LumpedLegTest, DerivativesAgreeWithCentralDifferences) {
  const LumpedLeg leg(AskewLeg(), SmallScale());
  // 1e-7: in the stop's width the third derivative is about 2e3, so truncation is 3e-8.
  constexpr double kStep = 1e-5;
  // Inside the travel and in both stops of each coordinate.
  for (const Eigen::Vector2d& y : {Eigen::Vector2d(0.05, -0.1),
                                   Eigen::Vector2d(0.20, 0.45),
                                   Eigen::Vector2d(-0.1835, -0.417)}) {
    LegEvaluation at;
    leg.Evaluate(y, DerivativeOrder::kSecond, &at);
    for (int j = 0; j < 2; ++j) {
      LegEvaluation above;
      LegEvaluation below;
      leg.Evaluate(y + kStep * Eigen::Vector2d::Unit(j), DerivativeOrder::kSecond, &above);
      leg.Evaluate(y - kStep * Eigen::Vector2d::Unit(j), DerivativeOrder::kSecond, &below);
      const auto k = static_cast<size_t>(j);
      for (size_t f = 0; f < F::kCount; ++f) {
        const double size = 1.0 + std::abs(at.value[f]);
        EXPECT_NEAR(at.first[k][f], (above.value[f] - below.value[f]) / (2.0 * kStep), 1e-7 * size)
            << "function " << f << " by " << j;
        EXPECT_NEAR(
            at.second[k][f], (above.first[k][f] - below.first[k][f]) / (2.0 * kStep), 1e-7 * size)
            << "function " << f << " by " << j << " twice";
        EXPECT_NEAR(at.second[2][f],
                    (above.first[1 - k][f] - below.first[1 - k][f]) / (2.0 * kStep),
                    1e-7 * size)
            << "function " << f << " mixed";
      }
    }
  }
}

TEST(LumpedLegTest, BimorphStiffnessAndMassAreSeenThroughTheTransmission) {
  v1::LumpedLeg description = test::MakeQuadruped().legs(0).lumped();
  const LumpedLeg leg(description, Scale());
  LegEvaluation at;
  leg.Evaluate(Eigen::Vector2d::Zero(), DerivativeOrder::kSecond, &at);
  const double ratio = description.lift().transmission_ratio();
  EXPECT_DOUBLE_EQ(at.second[0][F::kPotential], 1.36 + 90.0 / (ratio * ratio));
  EXPECT_DOUBLE_EQ(at.value[F::kRateRate], 4e-6 + 1.92e-6 + 20e-6 / (ratio * ratio));
  EXPECT_DOUBLE_EQ(at.first[0][F::kTravel], 1.0 / ratio);
  EXPECT_DOUBLE_EQ(leg.mass(), 4e-6);
}

TEST(LumpedLegTest, FootMovesAlongTheDirections) {
  const LumpedLeg leg(test::MakeQuadruped().legs(0).lumped(), Scale());
  LegEvaluation at;
  leg.Evaluate(Eigen::Vector2d(0.001, -0.002), DerivativeOrder::kSecond, &at);
  EXPECT_DOUBLE_EQ(at.value[F::kFoot], 0.013);
  EXPECT_DOUBLE_EQ(at.value[F::kFoot + 1], 0.0175);
  EXPECT_DOUBLE_EQ(at.value[F::kFoot + 2], -0.010);
}

TEST(LumpedLegTest, StopsDoNothingInsideTheTravelAndPushBackBeyond) {
  const LumpedLeg with_stops(test::MakeQuadruped().legs(0).lumped(), Scale());
  v1::LumpedLeg description = test::MakeQuadruped().legs(0).lumped();
  description.mutable_lift()->set_stop_stiffness_n_per_m(0.0);
  description.mutable_swing()->set_stop_stiffness_n_per_m(0.0);
  const LumpedLeg without_stops(description, Scale());
  LegEvaluation a;
  LegEvaluation b;
  with_stops.Evaluate(Eigen::Vector2d(0.002, -0.0045), DerivativeOrder::kSecond, &a);
  without_stops.Evaluate(Eigen::Vector2d(0.002, -0.0045), DerivativeOrder::kSecond, &b);
  EXPECT_EQ(a.value, b.value);
  EXPECT_EQ(a.first, b.first);
  with_stops.Evaluate(Eigen::Vector2d(0.003, 0.0), DerivativeOrder::kSecond, &a);
  without_stops.Evaluate(Eigen::Vector2d(0.003, 0.0), DerivativeOrder::kSecond, &b);
  // 1 mm beyond, less half the width of 0.08 mm.
  EXPECT_NEAR(a.first[0][F::kPotential] - b.first[0][F::kPotential], 20.0 * 0.00096, 1e-12);
}

}  // namespace
}  // namespace gaitshelf::solver
