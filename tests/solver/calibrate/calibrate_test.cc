// Covers solver/calibrate/estimate.cc
// Covers solver/calibrate/leg_report.cc
#include "solver/calibrate/calibrate.h"

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "solver/calibrate/estimate.h"
#include "solver/calibrate/leg_numbers.h"
#include "solver/robot/check.h"
#include "tests/support/bench_trial.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using test::HasStatus;
using test::IsOk;
using testing::HasSubstr;

const v1::CalibrationEstimate* Find(const v1::Calibration& calibration, const std::string& name) {
  const auto& all = calibration.estimates();
  const auto found = std::find_if(all.begin(), all.end(), [&](const v1::CalibrationEstimate& one) {
    return one.parameter() == name;
  });
  return found == all.end() ? nullptr : &*found;
}

TEST(EstimateTest, IntervalIsThatOfTheLogarithm) {
  const EstimateSubject subject = {.quantity = v1::CALIBRATION_QUANTITY_STIFFNESS,
                                   .leg = "rear-left",
                                   .axis = 1,
                                   .described_si = 2.0};
  const v1::CalibrationEstimate estimate =
      MakeEstimate(subject, {.log = std::log(1.1), .log_deviation = 0.02, .prior_deviation = 0.7});
  EXPECT_EQ(estimate.parameter(), "rear-left swing stiffness");
  EXPECT_EQ(estimate.unit(), "N/m");
  EXPECT_NEAR(estimate.estimate_si(), 2.2, 1e-12);
  EXPECT_NEAR(estimate.lower_si(), 2.2 * std::exp(-1.96 * 0.02), 1e-5);
  EXPECT_NEAR(estimate.upper_si(), 2.2 * std::exp(1.96 * 0.02), 1e-5);
  EXPECT_TRUE(estimate.is_told());
  EXPECT_FALSE(MakeEstimate(subject, {.log_deviation = 0.5, .prior_deviation = 0.7}).is_told());
}

TEST(EstimateTest, NamesPairsThatHangTogether) {
  Eigen::Matrix3d covariance;
  covariance << 1.0, 0.95, 0.5, 0.95, 1.0, 0.99, 0.5, 0.99, 1.0;
  v1::Calibration calibration;
  AddCorrelations({"a", "b", ""}, covariance, &calibration);
  ASSERT_EQ(calibration.correlations_size(), 1);
  EXPECT_EQ(calibration.correlations(0).parameter_b(), "b");
  EXPECT_DOUBLE_EQ(calibration.correlations(0).correlation_ratio(), 0.95);
}

TEST(CalibrateTest, TakesWhatTheDataTellAndLeavesTheRest) {
  const v1::Robot described = test::MakeQuadruped();
  v1::Robot hidden = described;
  LegFactors factors;
  factors.stiffness = {1.15, 0.9};
  for (v1::Leg& leg : *hidden.mutable_legs()) {
    leg = LegNumbers::Create(leg).value().Scaled(leg, factors);
  }
  const test::ReadTrial ring = test::MakeLegTrial(hidden, test::RingDown(7));
  const test::ReadTrial tilt = test::MakeTiltTrial({.friction = 0.4});
  CalibrationRequest request;
  request.robot = described;
  request.surface = test::MakeSurface(0.5);
  request.trials = {ring.table.get(), tilt.table.get()};
  std::vector<double> shares;
  request.on_progress = [&](const v1::CalibrationProgress& progress) {
    shares.push_back(progress.done_ratio());
  };
  const auto calibration = Calibrate(request);
  ASSERT_THAT(calibration, IsOk());
  EXPECT_TRUE(std::is_sorted(shares.begin(), shares.end()));
  EXPECT_EQ(shares.back(), 1.0);
  EXPECT_TRUE(calibration->is_invented());
  EXPECT_THAT(calibration->trials(), testing::ElementsAre("t-ring", "t-tilt"));
  const v1::Robot& robot = calibration->calibrated_robot();
  for (int i = 0; i < 4; ++i) {
    const std::string name = described.legs(i).name();
    const v1::CalibrationEstimate* lift = Find(*calibration, name + " lift stiffness");
    ASSERT_NE(lift, nullptr);
    EXPECT_TRUE(lift->is_told());
    EXPECT_NEAR(lift->estimate_si() / lift->described_si(), 1.15, 0.05);
    EXPECT_NEAR(robot.legs(i).lumped().lift().stiffness_n_per_m(),
                1.36 * lift->estimate_si() / lift->described_si(),
                1e-9);
    const v1::CalibrationEstimate* gain = Find(*calibration, name + " swing gain");
    ASSERT_NE(gain, nullptr);
    EXPECT_FALSE(gain->is_told());
    EXPECT_THAT(gain->reason(), HasSubstr("stays as described"));
    EXPECT_EQ(robot.legs(i).lumped().swing().bimorph().gain_n_per_v(), 1.2e-3);
    EXPECT_FALSE(Find(*calibration, name + " mass")->is_told());
    EXPECT_EQ(robot.legs(i).lumped().foot_mass_kg(), 4e-6);
  }
  EXPECT_TRUE(CheckRobot(robot).empty());
  // Stiffness and mass go together in a ring-down.
  EXPECT_GE(calibration->correlations_size(), 8);
  // All stiffnesses were told, no gain was.
  EXPECT_LT(robot.uncertainty().stiffness_ratio(), 0.03);
  EXPECT_EQ(robot.uncertainty().gain_ratio(), 0.05);
  const v1::CalibrationEstimate* friction = Find(*calibration, "friction");
  ASSERT_NE(friction, nullptr);
  EXPECT_LE(friction->lower_si(), 0.4);
  EXPECT_GE(friction->upper_si(), 0.4);
  EXPECT_EQ(calibration->calibrated_surface().friction_coefficient(), friction->estimate_si());
  EXPECT_EQ(calibration->calibrated_surface().friction_method(), v1::FRICTION_METHOD_TILT);
}

TEST(CalibrateTest, SaysWhatIsMissing) {
  const test::ReadTrial tilt = test::MakeTiltTrial({});
  CalibrationRequest request;
  request.trials = {tilt.table.get()};
  EXPECT_THAT(Calibrate(request),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("surface is missing")));
  request.trials.clear();
  EXPECT_THAT(Calibrate(request),
              HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("measure nothing")));
  const test::ReadTrial wild = test::MakeTiltTrial({.friction = 5.0, .scatter_rad = 0.0});
  request.surface = test::MakeSurface(0.5);
  request.trials = {wild.table.get()};
  EXPECT_THAT(Calibrate(request),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("trial 't-tilt': row 1")));
}

TEST(CalibrateTest, ListsEveryFaultOfTheOptions) {
  v1::CalibrationOptions options;
  EXPECT_TRUE(CheckCalibrationOptions(options).empty());
  options.set_tilt_uncertainty_rad(-1.0);
  options.set_force_uncertainty_ratio(0.6);
  const Violations faults = CheckCalibrationOptions(options);
  ASSERT_EQ(faults.size(), 2u);
  EXPECT_EQ(faults[1].field(), "options.force_uncertainty_ratio");
}

TEST(CalibrateTest, StopsWhenItIsTold) {
  const v1::Robot robot = test::MakeQuadruped();
  const test::ReadTrial ring = test::MakeLegTrial(robot, test::RingDown(8));
  std::atomic<bool> stop = true;
  CalibrationRequest request;
  request.robot = robot;
  request.trials = {ring.table.get()};
  request.stop = &stop;
  EXPECT_THAT(Calibrate(request), HasStatus(absl::StatusCode::kCancelled, HasSubstr("stopped")));
}

}  // namespace
}  // namespace gaitshelf::solver
