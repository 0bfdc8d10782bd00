#include "solver/calibrate/leg_fit.h"

#include <cmath>
#include <numbers>
#include <utility>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/bench_trial.h"
#include "tests/support/demo.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using test::IsOk;

constexpr double kMassRatio = 0.02;

LegFactors HiddenFactors() {
  LegFactors hidden;
  hidden.stiffness = {1.17, 0.84};
  hidden.damping = {0.85, 1.2};
  hidden.gain = {0.82, 1.14};
  return hidden;
}

// The robot with every leg changed alike.
v1::Robot Change(const v1::Robot& robot, const LegFactors& factors) {
  v1::Robot changed = robot;
  for (v1::Leg& leg : *changed.mutable_legs()) {
    leg = LegNumbers::Create(leg).value().Scaled(leg, factors);
  }
  return changed;
}

LegFit Fit(const v1::Robot& described, const std::vector<const test::ReadTrial*>& trials) {
  const v1::Leg& leg = described.legs(0);
  const LinearLeg linear = LineariseLeg(leg, LegNumbers::Create(leg).value()).value();
  std::vector<BenchRecord> records;
  for (const test::ReadTrial* trial : trials) {
    for (BenchRecord& record : ReadBenchRecords(*trial->table, leg)) {
      records.push_back(std::move(record));
    }
  }
  const auto fit = FitLeg({.leg = &linear, .records = records, .mass_ratio = kMassRatio});
  EXPECT_THAT(fit, IsOk());
  return fit.value_or(LegFit());
}

double Deviation(const LegFit& fit, Index unknown) {
  return std::sqrt(fit.covariance(unknown, unknown));
}

void ExpectFound(const LegFit& fit, const LegFactors& hidden) {
  const double logs[] = {std::log(hidden.stiffness[0]),
                         std::log(hidden.stiffness[1]),
                         std::log(hidden.damping[0]),
                         std::log(hidden.damping[1]),
                         std::log(hidden.gain[0]),
                         std::log(hidden.gain[1]),
                         std::log(hidden.mass)};
  for (Index i = 0; i < LegUnknown::kCount; ++i) {
    EXPECT_NEAR(fit.estimate[i], logs[i], 4.0 * Deviation(fit, i)) << i;
  }
}

TEST(LegFitTest, FindsAHiddenLegByRingDownAndChirp) {
  const v1::Robot described = test::MakeQuadruped();
  const v1::Robot hidden = Change(described, HiddenFactors());
  const test::ReadTrial ring = test::MakeLegTrial(hidden, test::RingDown(1));
  const test::ReadTrial chirp = test::MakeLegTrial(hidden, test::Chirp(2));
  const LegFit fit = Fit(described, {&ring, &chirp});
  ExpectFound(fit, HiddenFactors());
  for (Index axis = 0; axis < 2; ++axis) {
    // The data tell more than the mass is known to.
    EXPECT_LT(Deviation(fit, LegUnknown::kStiffness + axis), 1.1 * kMassRatio);
    EXPECT_LT(Deviation(fit, LegUnknown::kGain + axis), 1.1 * kMassRatio);
    EXPECT_LT(Deviation(fit, LegUnknown::kDamping + axis), 0.1);
  }
  EXPECT_NEAR(Deviation(fit, LegUnknown::kMass), kMassRatio, 1e-4);
  // What is left is the noise that was put in.
  ASSERT_EQ(fit.channels.size(), 4u);
  for (const ChannelFit& channel : fit.channels) {
    EXPECT_NEAR(channel.noise.deviation, 5e-6, 0.5e-6) << channel.trial << channel.axis;
    EXPECT_LT(channel.noise.run_length, 2.0);
    EXPECT_GT(channel.signal_m, 2e-5);
  }
}

TEST(LegFitTest, RingDownAloneDoesNotTellTheGain) {
  const v1::Robot described = test::MakeQuadruped();
  const test::ReadTrial ring =
      test::MakeLegTrial(Change(described, HiddenFactors()), test::RingDown(3));
  const LegFit fit = Fit(described, {&ring});
  for (Index axis = 0; axis < 2; ++axis) {
    EXPECT_NEAR(
        Deviation(fit, LegUnknown::kGain + axis), fit.prior[LegUnknown::kGain + axis], 1e-6);
    EXPECT_NEAR(fit.estimate[LegUnknown::kGain + axis], 0.0, 1e-6);
    // Stiffness is as uncertain as the mass and goes with it.
    const Index k = LegUnknown::kStiffness + axis;
    EXPECT_NEAR(Deviation(fit, k), kMassRatio, 0.1 * kMassRatio);
    EXPECT_GT(fit.covariance(k, LegUnknown::kMass) / (Deviation(fit, k) * kMassRatio), 0.98);
  }
}

TEST(LegFitTest, StepTellsStiffnessDampingAndGain) {
  const v1::Robot described = test::MakeQuadruped();
  const test::ReadTrial step =
      test::MakeLegTrial(Change(described, HiddenFactors()), test::StepUp(4));
  const LegFit fit = Fit(described, {&step});
  ExpectFound(fit, HiddenFactors());
  EXPECT_LT(Deviation(fit, LegUnknown::kGain), 2.0 * kMassRatio);
}

TEST(LegFitTest, FindsAHiddenLinkage) {
  const v1::Robot described = test::ReadDemoRobot("weevil");
  const v1::Robot hidden = Change(described, HiddenFactors());
  // Small, so that the linkage is nearly linear.
  test::LegTest ring = test::RingDown(5);
  ring.start_lift_m = 1.5e-4;
  ring.start_swing_m = 1.5e-4;
  ring.noise_m = 1e-6;
  const test::ReadTrial trial = test::MakeLegTrial(hidden, ring);
  const LegFit fit = Fit(described, {&trial});
  for (std::size_t axis = 0; axis < 2; ++axis) {
    const auto k = static_cast<Index>(axis);
    EXPECT_NEAR(
        fit.estimate[k], std::log(HiddenFactors().stiffness[axis]), 4.0 * Deviation(fit, k) + 0.01)
        << axis;
  }
}

// Two frequencies, without and with an added mass, tell the stiffness without the mass being known:
// k = 4 pi^2 dm / (1 / f2^2 - 1 / f1^2). 735.82272 Hz and 658.13985 Hz with 10 mg give 855 N/m,
// computed apart from this program.
TEST(LegFitTest, AddedMassTellsTheStiffness) {
  constexpr double kTwoPi = 2.0 * std::numbers::pi;
  LinearLeg leg;
  leg.mass = 1e-3 * Eigen::Matrix2d::Identity();
  leg.mass(0, 0) = 5e-5;  // described wrongly: 855 / (2 pi 735.8)^2 is 4.0e-5
  leg.weight_stiffness.setZero();
  leg.stiffness[0] = (Eigen::Matrix2d() << 800.0, 0, 0, 0).finished();
  leg.stiffness[1] = (Eigen::Matrix2d() << 0, 0, 0, 500.0).finished();
  leg.damping[0] = leg.damping[1] = Eigen::Matrix2d::Zero();
  leg.damping[0](0, 0) = 1e-3;
  leg.gain.setZero();
  leg.foot_rate.setZero();
  leg.foot_rate(2, 0) = leg.foot_rate(0, 1) = 1.0;
  std::vector<double> times;
  std::vector<std::vector<double>> values(2);
  const double frequencies[] = {735.8227198780577, 658.139848414449};
  for (int i = 0; i < 1000; ++i) {
    times.push_back(i * 2e-5);
    for (int k = 0; k < 2; ++k) {
      // Without losses, as the two frequencies are.
      values[static_cast<std::size_t>(k)].push_back(
          1e-5 * std::cos(kTwoPi * frequencies[k] * times.back()));
    }
  }
  std::vector<BenchRecord> records(2);
  for (std::size_t k = 0; k < 2; ++k) {
    records[k].trial = "t";
    records[k].time_s = &times;
    records[k].position_m[0] = &values[k];
    records[k].input.setZero(4, 1000);
  }
  records[1].added_mass_kg = 1e-5;
  const auto fit = FitLeg({.leg = &leg, .records = records, .mass_ratio = 0.3});
  ASSERT_THAT(fit, IsOk());
  // A factor on the damping cannot reach 0: 0.05 % for what is left of it.
  EXPECT_NEAR(800.0 * std::exp(fit->estimate[LegUnknown::kStiffness]), 855.0, 0.43);
  EXPECT_LT(Deviation(*fit, LegUnknown::kMass), 0.01);
}

}  // namespace
}  // namespace gaitshelf::solver
