#include "solver/calibrate/friction.h"

#include <cmath>
#include <numbers>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/bench_trial.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using test::HasStatus;
using test::IsOk;
using testing::HasSubstr;

constexpr double kRadPerDeg = std::numbers::pi / 180.0;

test::ReadTrial MakeTrial(v1::TrialKind kind,
                          const std::vector<std::string>& labels,
                          const std::vector<double>& values,
                          double rate_hz = 0.0) {
  test::ReadTrial read;
  read.trial->set_name("t-1");
  read.trial->set_kind(kind);
  read.trial->set_surface("bench");
  v1::TrialGroup* group = read.trial->add_groups();
  group->set_name("log");
  group->set_clock(v1::TRIAL_CLOCK_BENCH);
  group->set_sample_rate_hz(rate_hz);
  for (const std::string& label : labels) {
    group->add_columns()->set_label(label);
  }
  read.blocks.emplace_back().mutable_values_as_labelled()->Add(values.begin(), values.end());
  read.Read(test::MakeBody(1.0, 1.0));
  return read;
}

// mu = tan(theta), u(mu) = (1 + mu^2) u(theta); values computed apart from this program, where a
// Monte Carlo agrees to 0.2 %.
TEST(FrictionTest, TiltTellsFrictionWithTheUncertaintyOfItsAngle) {
  const struct {
    double tilt_deg, friction, uncertainty;
  } rows[] = {{16.69924423399362, 0.3, 0.009512044423369097},
              {30.963756532073518, 0.6, 0.01186823891356144},
              {45.0, 1.0, 0.017453292519943295}};
  for (const auto& row : rows) {
    const test::ReadTrial read = MakeTrial(v1::TRIAL_KIND_TILT, {"tilt [deg]"}, {row.tilt_deg});
    FrictionTest test = {.table = read.table.get()};
    test.options.set_tilt_uncertainty_rad(0.5 * kRadPerDeg);
    const auto figure = MeasureFriction(test);
    ASSERT_THAT(figure, IsOk());
    EXPECT_NEAR(figure->friction, row.friction, 1e-9);
    EXPECT_NEAR(figure->uncertainty, row.uncertainty, 1e-9);
    EXPECT_FALSE(figure->is_moving);
    EXPECT_EQ(figure->method, v1::FRICTION_METHOD_TILT);
  }
}

// mu_k = tan(theta) - 2 s / (g t^2 cos(theta)); 30 deg, 0.2 m, 0.35 s, computed apart from this
// program.
TEST(FrictionTest, SlideTellsFrictionInMotion) {
  const test::ReadTrial read =
      MakeTrial(v1::TRIAL_KIND_TILT,
                {"tilt [deg]", "slide distance [mm]", "slide time [ms]"},
                {30.0, 200.0, 350.0, 30.0, 200.0, 350.0, std::nan(""), 200.0, 350.0});
  FrictionTest test = {.table = read.table.get()};
  test.options.set_tilt_uncertainty_rad(0.001);
  const auto figure = MeasureFriction(test);
  ASSERT_THAT(figure, IsOk());
  EXPECT_NEAR(figure->friction, 0.19300258951940097, 1e-9);
  EXPECT_TRUE(figure->is_moving);
  EXPECT_EQ(figure->count, 2);
}

TEST(FrictionTest, RepetitionsShrinkTheScatterAndNotTheInstrument) {
  const test::ReadTrial read =
      MakeTrial(v1::TRIAL_KIND_TILT, {"tilt [rad]"}, {0.40, 0.41, 0.42, 0.41});
  FrictionTest test = {.table = read.table.get()};
  const auto scatter = MeasureFriction(test);
  ASSERT_THAT(scatter, IsOk());
  // Deviation 0.00816 of the tangents, times 1 + mu^2, over the root of four.
  EXPECT_NEAR(scatter->uncertainty, 0.5 * 0.0081650 * (1.0 + 0.4346 * 0.4346), 2e-5);
  EXPECT_NEAR(scatter->degrees_of_freedom, 3.0, 1e-12);
  test.options.set_tilt_uncertainty_rad(0.01);
  const auto both = MeasureFriction(test);
  EXPECT_NEAR(both->uncertainty,
              std::hypot(scatter->uncertainty, 0.01 * (1.0 + std::pow(both->friction, 2))),
              1e-12);
  EXPECT_GT(both->degrees_of_freedom, 50.0);
}

TEST(FrictionTest, SledCountsOnlyWhileItMoves) {
  std::vector<double> values;
  for (int i = 0; i < 400; ++i) {
    const bool moves = i >= 100;
    // It hangs, then slides with a ripple.
    values.push_back(moves ? 20.0 + std::sin(2.4 * i) : 30.0);
    values.push_back(50.0);
    values.push_back(moves ? 0.2 * (i - 99) : 0.0);
  }
  const test::ReadTrial read =
      MakeTrial(v1::TRIAL_KIND_SLED,
                {"pull force [mN]", "normal force [mN]", "slide distance [mm]"},
                values,
                100.0);
  const auto figure = MeasureFriction({.table = read.table.get()});
  ASSERT_THAT(figure, IsOk());
  EXPECT_NEAR(figure->friction, 0.4, 1e-3);
  EXPECT_EQ(figure->count, 300);
  EXPECT_TRUE(figure->is_moving);
  EXPECT_EQ(figure->method, v1::FRICTION_METHOD_SLED);
}

TEST(FrictionTest, RefusesRowsThatMakeNoSense) {
  const auto expect = [](const test::ReadTrial& read,
                         double tipping_rad,
                         absl::StatusCode code,
                         const std::string& words) {
    FrictionTest test = {.table = read.table.get(), .tipping_rad = tipping_rad};
    EXPECT_THAT(MeasureFriction(test), HasStatus(code, HasSubstr(words)));
  };
  const double far = 10.0;
  const auto invalid = absl::StatusCode::kInvalidArgument;
  expect(MakeTrial(v1::TRIAL_KIND_TILT, {"tilt [deg]"}, {10.0, 46.0}),
         0.8,
         invalid,
         "row 2: tilt is 46.00 deg, at which");
  expect(
      MakeTrial(v1::TRIAL_KIND_TILT, {"tilt [deg]"}, {80.0}), far, invalid, "slides at 0 to 71.6");
  const std::vector<std::string> slide = {"tilt [deg]", "slide distance [mm]", "slide time [s]"};
  expect(MakeTrial(v1::TRIAL_KIND_TILT, slide, {20.0, 500.0, 0.1}),
         far,
         invalid,
         "faster than without");
  expect(MakeTrial(v1::TRIAL_KIND_TILT, slide, {20.0, 10.0, 0.0}), far, invalid, "more than 0");
  const std::vector<std::string> sled = {"pull force [mN]", "normal force [mN]"};
  expect(MakeTrial(v1::TRIAL_KIND_SLED, sled, {20.0, 0.0}), far, invalid, "normal force is 0 N");
  const auto unmet = absl::StatusCode::kFailedPrecondition;
  expect(
      MakeTrial(v1::TRIAL_KIND_TILT, {"tilt [deg]"}, {20.0}), far, unmet, "tells no uncertainty");
  expect(MakeTrial(v1::TRIAL_KIND_TILT, {"tilt [deg]"}, {std::nan("")}), far, unmet, "no row has");
}

TEST(FrictionTest, SeveralTestsCountByTheirVariances) {
  const FrictionFigure sure = {.friction = 0.40, .uncertainty = 0.01};
  const FrictionFigure vague = {.friction = 0.42, .uncertainty = 0.02};
  const FrictionFigure all = CombineFriction({sure, vague});
  EXPECT_NEAR(all.friction, 0.404, 1e-12);
  EXPECT_NEAR(all.uncertainty, 0.01 / std::sqrt(1.25), 1e-12);
  EXPECT_EQ(all.birge_ratio, 1.0);
  // Ten deviations apart: they do not measure the same.
  const FrictionFigure other = {.friction = 0.50, .uncertainty = 0.01};
  const FrictionFigure torn = CombineFriction({sure, other});
  EXPECT_NEAR(torn.friction, 0.45, 1e-12);
  EXPECT_NEAR(torn.uncertainty, 0.05, 1e-9);
}

TEST(FrictionTest, TipsWhereTheCentreIsAboveTheRearFeet) {
  v1::Robot block = test::MakeBody(0.002, 1e-8);
  for (const double x : {0.01, -0.01}) {
    test::AddBodyFoot(&block, x, 0.005, -0.008);
    test::AddBodyFoot(&block, x, -0.005, -0.008);
  }
  EXPECT_NEAR(TippingAngle(block), std::atan(0.01 / 0.008), 1e-12);
  test::SetVector(block.mutable_body()->mutable_center_of_mass_m(), 0.002, 0.0, 0.002);
  EXPECT_NEAR(TippingAngle(block), std::atan(0.012 / 0.010), 1e-12);
}

}  // namespace
}  // namespace gaitshelf::solver
