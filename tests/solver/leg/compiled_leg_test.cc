// The figures of the demonstration's leg were worked out apart from this code, with all flexures as
// coordinates and the loop equations projected out.
#include "solver/leg/compiled_leg.h"

#include <algorithm>
#include <cmath>
#include <string>

#include <Eigen/Eigenvalues>
#include <gtest/gtest.h>

#include "solver/leg/compile_leg.h"
#include "solver/robot/leg_linkage.h"
#include "tests/support/demo.h"

namespace gaitshelf::solver {
namespace {

using F = LegFunction;
using Eigen::Vector2d;

constexpr char kDemo[] = "weevil";

v1::LinkageLeg DemoLeg(int index = 0) { return test::ReadDemoRobot(kDemo).legs(index).linkage(); }

CompiledLeg Compile(const v1::LinkageLeg& leg, const Scale& scale = Scale()) {
  return CompiledLeg(CompileLeg(leg).value(), scale);
}

Scale SmallScale() { return {.length_m = 0.011, .mass_kg = 1.9e-3, .time_s = 0.0335}; }

LegEvaluation At(const CompiledLeg& leg, double lift, double swing) {
  LegEvaluation evaluation{};
  leg.Evaluate(Vector2d(lift, swing), DerivativeOrder::kSecond, &evaluation);
  return evaluation;
}

TEST(CompiledLegTest, FlexuresWeighAndBendAsStated) {
  const v1::LinkageLeg description = DemoLeg();
  EXPECT_NEAR(Compile(description).mass(), 21.7e-6, 1e-15);
  double sum = 0.0;
  for (const v1::Flexure& flexure : description.flexures()) {
    sum += FlexureStiffness(flexure.bending());
  }
  for (const v1::ClosingFlexure& flexure : description.closing_flexures()) {
    sum += FlexureStiffness(flexure.bending());
  }
  EXPECT_NEAR(sum, 140.6e-6, 0.1e-6);
}

TEST(CompiledLegTest, RingsAsTheWholeMechanismDoes) {
  const LegEvaluation at = At(Compile(DemoLeg()), 0.0, 0.0);
  Eigen::Matrix2d mass;
  mass << at.value[F::kRateRate], at.value[F::kRateRate + 2], at.value[F::kRateRate + 2],
      at.value[F::kRateRate + 1];
  Eigen::Matrix2d stiffness;
  stiffness << at.second[0][F::kPotential], at.second[2][F::kPotential],
      at.second[2][F::kPotential], at.second[1][F::kPotential];
  const Eigen::GeneralizedSelfAdjointEigenSolver<Eigen::Matrix2d> modes(stiffness, mass);
  const Vector2d frequency_hz = modes.eigenvalues().cwiseSqrt() / (2.0 * M_PI);
  EXPECT_NEAR(frequency_hz[0], 92.88, 0.01);
  EXPECT_NEAR(frequency_hz[1], 95.27, 0.01);
}

TEST(CompiledLegTest, CoordinatesAreMetresAtTheFoot) {
  for (int index = 0; index < 4; ++index) {
    const CompiledLeg leg = Compile(DemoLeg(index));
    const LegEvaluation rest = At(leg, 0.0, 0.0);
    EXPECT_NEAR(rest.first[0][F::kFoot + 2], 1.0, 1e-6);
    EXPECT_NEAR(rest.first[1][F::kFoot], 1.0, 1e-6);
    // 0.32 rad at 6.5 mm, 0.5 rad at 9.5 mm.
    EXPECT_NEAR(leg.travel(0).upper, 2.08e-3, 1e-8);
    EXPECT_NEAR(leg.travel(1).lower, -4.75e-3, 1e-8);
    const double rest_z = rest.value[F::kFoot + 2];
    EXPECT_NEAR(At(leg, 2.08e-3, 0.0).value[F::kFoot + 2] - rest_z, 2.05e-3, 0.01e-3);
    EXPECT_NEAR(At(leg, -2.08e-3, 0.0).value[F::kFoot + 2] - rest_z, -2.04e-3, 0.01e-3);
    EXPECT_NEAR(std::abs(At(leg, 2.08e-3, 0.0).value[F::kTravel]), 0.20e-3, 0.01e-3);
    const double ahead = std::abs(At(leg, 0.0, 4.75e-3).value[F::kTravel + 1]);
    const double behind = std::abs(At(leg, 0.0, -4.75e-3).value[F::kTravel + 1]);
    EXPECT_NEAR(std::max(ahead, behind), 0.385e-3, 0.001e-3);
    // Foot up means pin down.
    EXPECT_NEAR(rest.first[0][F::kTravel], -1.0 / 10.4, 0.002);
  }
}

TEST(CompiledLegTest, DerivativesAgreeWithCentralDifferences) {
  const CompiledLeg leg = Compile(DemoLeg(), SmallScale());
  constexpr double kStep = 1e-5;
  // Inside, in the stops and far beyond them.
  for (const Vector2d& y : {Vector2d(0.05, -0.1), Vector2d(0.20, 0.45), Vector2d(-0.23, -0.53)}) {
    const LegEvaluation at = At(leg, y[0], y[1]);
    for (size_t j = 0; j < 2; ++j) {
      const Vector2d step = kStep * Vector2d::Unit(static_cast<Eigen::Index>(j));
      const LegEvaluation above = At(leg, y[0] + step[0], y[1] + step[1]);
      const LegEvaluation below = At(leg, y[0] - step[0], y[1] - step[1]);
      for (size_t f = 0; f < F::kCount; ++f) {
        const auto slope = [&](const LegValues& high, const LegValues& low) {
          return (high[f] - low[f]) / (2.0 * kStep);
        };
        EXPECT_NEAR(at.first[j][f], slope(above.value, below.value), 1e-6) << f << " " << j;
        EXPECT_NEAR(at.second[j][f], slope(above.first[j], below.first[j]), 1e-5) << f << " " << j;
        EXPECT_NEAR(at.second[2][f], slope(above.first[1 - j], below.first[1 - j]), 1e-5) << f;
      }
    }
  }
}

TEST(CompiledLegTest, FootAndTravelAreTheSameAlone) {
  const CompiledLeg leg = Compile(DemoLeg());
  const LegEvaluation all = At(leg, 1e-3, -2e-3);
  LegEvaluation some{};
  leg.EvaluateFootAndTravel(Vector2d(1e-3, -2e-3), DerivativeOrder::kSecond, &some);
  for (size_t f = F::kFoot; f < F::kDamping; ++f) {
    EXPECT_EQ(some.value[f], all.value[f]);
    EXPECT_EQ(some.first[1][f], all.first[1][f]);
    EXPECT_EQ(some.second[2][f], all.second[2][f]);
  }
}

// The right leg is the left one in a mirror.
TEST(CompiledLegTest, MirroredLegsMoveInAMirror) {
  const LegEvaluation left = At(Compile(DemoLeg(0)), 1.2e-3, -3e-3);
  const LegEvaluation right = At(Compile(DemoLeg(1)), 1.2e-3, -3e-3);
  const auto expect = [&](int f, double sign) {
    const auto i = static_cast<size_t>(f);
    EXPECT_NEAR(right.value[i], sign * left.value[i], 1e-9 * (1e-9 + std::abs(left.value[i]))) << f;
  };
  for (int axis = 0; axis < 3; ++axis) {
    const double sign = axis == 1 ? -1.0 : 1.0;
    expect(F::kFoot + axis, sign);
    expect(F::kFirstMoment + axis, sign);
    expect(F::kMomentumRate + axis, sign);
    expect(F::kMomentumRate + 3 + axis, sign);
    expect(F::kAngularRate + axis, -sign);  // turns change sign the other way
    expect(F::kInertia + axis, 1.0);
    expect(F::kRateRate + axis, 1.0);
    expect(F::kDamping + axis, 1.0);
  }
  expect(F::kInertia + 3, -1.0);
  expect(F::kPotential, 1.0);
}

}  // namespace
}  // namespace gaitshelf::solver
