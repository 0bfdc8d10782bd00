#include "solver/calibrate/gait_fit.h"

#include <atomic>
#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "solver/calibrate/leg_numbers.h"
#include "solver/plan/plan_gait.h"
#include "solver/replay/record.h"
#include "tests/support/demo.h"
#include "tests/support/recorded_trial.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using test::HasStatus;
using test::IsOk;
using testing::HasSubstr;

// A walk of the demonstration's robot on felt, planned once for all cases.
class GaitFitTest : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    v1::GaitOrder order;
    order.set_robot("weevil-lumped");
    order.set_surface("liner-felt");
    order.set_stride_frequency_hz(12.0);
    order.mutable_task()->mutable_advance()->set_advance_m(0.009);
    gait_ = new v1::Gait(PlanGait({.robot = test::ReadDemoRobot("weevil-lumped"),
                                   .surface = test::ReadDemoSurface("liner-felt"),
                                   .order = order},
                                  {})
                             .value());
  }
  static void TearDownTestSuite() { delete gait_; }

  // The gait as it went on another robot, with noisy sensors.
  test::ReadTrial Walk(const v1::Robot& robot, const v1::Surface& surface) const {
    const Recording recording =
        RecordReplay({.robot = robot, .surface = surface, .gait = *gait_, .cycle_count = 25})
            .value();
    EXPECT_EQ(recording.simulated.trouble, "");
    return test::ReadRecordedTrial(test::MakeRecordedTrial(recording,
                                                           *gait_,
                                                           {.weight_n = 0.02,
                                                            .tracking_delay_s = 0.03,
                                                            .leg_noise_m = 5e-6,
                                                            .body_noise_m = 1e-4,
                                                            .body_noise_rad = 2e-3}),
                                   robot_);
  }

  static v1::Gait* gait_;
  v1::Robot robot_ = test::ReadDemoRobot("weevil-lumped");
  v1::Surface surface_ = test::ReadDemoSurface("liner-felt");
};

v1::Gait* GaitFitTest::gait_ = nullptr;

TEST_F(GaitFitTest, FindsTheRobotThatWalked) {
  v1::Robot hidden = robot_;
  LegFactors factors;
  factors.stiffness = {1.1, 0.9};
  factors.gain = {0.95, 1.08};
  for (v1::Leg& leg : *hidden.mutable_legs()) {
    leg = LegNumbers::Create(leg).value().Scaled(leg, factors);
  }
  const test::ReadTrial trial = Walk(hidden, surface_);
  const GaitUnknowns unknowns = GaitUnknowns::Create(robot_, surface_, {}).value();
  double done = 0.0;
  const auto fit = FitGaits({.unknowns = &unknowns,
                             .trials = {{.table = trial.table.get(), .gait = gait_}},
                             .thread_count = 2,
                             .on_progress = [&](double ratio) {
                               EXPECT_GE(ratio, done);
                               done = ratio;
                             }});
  ASSERT_THAT(fit, IsOk());
  EXPECT_DOUBLE_EQ(done, 1.0);
  int told_count = 0;
  for (Eigen::Index i = 0; i < unknowns.count(); ++i) {
    const EstimateSubject& subject = unknowns.subject(i);
    const auto axis = static_cast<std::size_t>(subject.axis);
    const double truth =
        subject.quantity == v1::CALIBRATION_QUANTITY_STIFFNESS ? std::log(factors.stiffness[axis])
        : subject.quantity == v1::CALIBRATION_QUANTITY_GAIN    ? std::log(factors.gain[axis])
                                                               : 0.0;
    const double deviation = std::sqrt(fit->covariance(i, i));
    // Four deviations: one of 29 is beyond that in a robot of five hundred.
    EXPECT_NEAR(fit->estimate[i], truth, 4.0 * deviation) << ParameterName(subject);
    // In numbers, so that a narrower prior does not move what is asked: to a tenth, where the
    // description may be off by a fifth.
    const bool is_sought = subject.quantity == v1::CALIBRATION_QUANTITY_STIFFNESS ||
                           subject.quantity == v1::CALIBRATION_QUANTITY_GAIN;
    told_count += is_sought && deviation < 0.1 ? 1 : 0;
  }
  // Stiffness and gain of a coordinate hang together, and only one of the two may be told.
  EXPECT_GE(told_count, 8);
}

TEST_F(GaitFitTest, RefusesAnotherFrequencyAndNamesTheTrial) {
  test::ReadTrial trial = Walk(robot_, surface_);
  trial.trial->set_stride_frequency_hz(10.0);
  const GaitUnknowns unknowns = GaitUnknowns::Create(robot_, surface_, {}).value();
  EXPECT_THAT(
      FitGaits({.unknowns = &unknowns, .trials = {{.table = trial.table.get(), .gait = gait_}}}),
      HasStatus(absl::StatusCode::kInvalidArgument,
                AllOf(HasSubstr("trial 't-gait' was played at 10 Hz"), HasSubstr("12 Hz"))));
}

TEST_F(GaitFitTest, StopsWhenItIsTold) {
  const test::ReadTrial trial = Walk(robot_, surface_);
  const GaitUnknowns unknowns = GaitUnknowns::Create(robot_, surface_, {}).value();
  const std::atomic<bool> stop = true;
  EXPECT_THAT(FitGaits({.unknowns = &unknowns,
                        .trials = {{.table = trial.table.get(), .gait = gait_}},
                        .stop = &stop}),
              HasStatus(absl::StatusCode::kCancelled, testing::_));
}

}  // namespace
}  // namespace gaitshelf::solver
