#include "solver/replay/simulate.h"

#include <atomic>
#include <cmath>
#include <cstdint>
#include <utility>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "solver/replay/limits.h"
#include "solver/replay/model_plant.h"
#include "tests/solver/replay/made_gaits.h"
#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using ::testing::Each;
using ::testing::SizeIs;

class SimulateGaitTest : public ::testing::Test {
 protected:
  absl::StatusOr<Simulated> Simulate(const v1::Gait& gait, double friction) {
    Scale scale;
    scale.length_m = 0.011;
    scale.mass_kg = 1.9e-3;
    scale.time_s = std::sqrt(0.011 / kGravityMPerS2);
    const RobotModel model = *RobotModel::Create(robot_, test::MakeSurface(friction), scale);
    const GaitTrack track = *GaitTrack::Create(gait, model);
    ModelPlant plant(&model);
    SimulateRequest request;
    request.plant = &plant;
    request.track = &track;
    request.leg_controller = robot_.leg_controller();
    request.cycle_count = cycle_count_;
    request.sweep_limit = sweep_limit_;
    request.stop = &stop_;
    return SimulateGait(request);
  }

  v1::Gait Coasting() const { return test::MakeCoasting(robot_, test::MakeSurface(0.0)); }
  v1::Gait Hop() const { return test::MakeHop(robot_, test::MakeSurface(0.45)); }

  v1::Robot robot_ = test::MakeQuadruped();
  int cycle_count_ = ReplaySettings::kCycleCount;
  std::int64_t sweep_limit_ = 0;
  std::atomic<bool> stop_ = false;
};

TEST(SteadyCycleCountTest, FillsHalfASecondWithinBounds) {
  EXPECT_EQ(SteadyCycleCount(1.0), 2);
  EXPECT_EQ(SteadyCycleCount(7.0), 4);
  EXPECT_EQ(SteadyCycleCount(28.0), ReplaySettings::kCycleCount);
}

TEST_F(SimulateGaitTest, GivesUpWhenTheContactTakesTooMuchWork) {
  sweep_limit_ = 10;
  const auto result = Simulate(Coasting(), 0.0);
  ASSERT_THAT(result, test::IsOk());
  EXPECT_THAT(result->trouble, ::testing::HasSubstr("chatter"));
  EXPECT_GT(result->sweep_count, 10);
  EXPECT_THAT(result->report.cycle_advance_m(), SizeIs(0));
}

TEST_F(SimulateGaitTest, CoastsAsPlanned) {
  const auto result = Simulate(Coasting(), 0.0);
  ASSERT_THAT(result, test::IsOk());
  EXPECT_EQ(result->trouble, "");
  const v1::ReplayReport& report = result->report;
  EXPECT_THAT(report.cycle_advance_m(), SizeIs(ReplaySettings::kCycleCount));
  EXPECT_THAT(report.cycle_advance_m(), Each(::testing::DoubleNear(0.009, 1e-7)));
  EXPECT_NEAR(report.plan_ratio(), 1.0, 1e-5);
  EXPECT_THAT(report.slip_m(), Each(::testing::DoubleNear(0.009, 1e-6)));
  EXPECT_THAT(report.touchdown_ratio(), Each(0.0));
  EXPECT_EQ(report.footfall_agreement_ratio(), 1.0);
  EXPECT_LE(report.step_s(), ReplaySettings::kLongestStepS);
  EXPECT_NEAR(report.peak_voltage_v(), test::HoldVoltage(true), 1e-3);
  EXPECT_LT(report.contact_residual_ratio(), 1e-8);
  EXPECT_NEAR(report.turn_rad(), 0.0, 1e-9);
}

TEST_F(SimulateGaitTest, StopsShortWhereFrictionIsHigherThanPlanned) {
  const auto result = Simulate(Coasting(), 0.45);
  ASSERT_THAT(result, test::IsOk());
  // It stops after v^2 / (2 mu g) = 1.3 mm.
  EXPECT_LT(std::abs(result->report.advance_m()), 1e-4);
}

TEST_F(SimulateGaitTest, LeavesTheFirstCycleOutOfItsAdvance) {
  // It stops within the first cycle, after 1.3 mm.
  cycle_count_ = 2;
  const auto result = Simulate(Coasting(), 0.45);
  ASSERT_THAT(result, test::IsOk());
  ASSERT_THAT(result->report.cycle_advance_m(), SizeIs(2));
  EXPECT_GT(result->report.cycle_advance_m(0), 1e-3);
  EXPECT_EQ(result->report.advance_m(), result->report.cycle_advance_m(1));
}

TEST_F(SimulateGaitTest, HopsOnceAndSettles) {
  const auto result = Simulate(Hop(), 0.45);
  ASSERT_THAT(result, test::IsOk());
  EXPECT_EQ(result->trouble, "");
  EXPECT_THAT(result->report.cycle_advance_m(), SizeIs(1));
  EXPECT_THAT(result->report.touchdown_ratio(), Each(1.0));
  EXPECT_NEAR(result->report.plan_ratio(), 1.0, 0.02);
  EXPECT_LT(std::abs(result->report.energy_balance_ratio()), 0.01);
}

TEST_F(SimulateGaitTest, GivesTheSameAnswerTwice) {
  auto once = Simulate(Hop(), 0.45);
  auto again = Simulate(Hop(), 0.45);
  ASSERT_THAT(once, test::IsOk());
  ASSERT_THAT(again, test::IsOk());
  once->report.clear_cpu_s();
  again->report.clear_cpu_s();
  EXPECT_EQ(once->report.SerializeAsString(), again->report.SerializeAsString());
}

TEST_F(SimulateGaitTest, SaysWhenTheRobotTipsOverItsSideOrItsFront) {
  for (const auto& [x_m, y_m] : {std::pair(0.0, 0.03), std::pair(0.03, 0.0)}) {
    test::SetVector(robot_.mutable_body()->mutable_center_of_mass_m(), x_m, y_m, 0.0);
    const auto result = Simulate(Coasting(), 0.0);
    ASSERT_THAT(result, test::IsOk());
    EXPECT_THAT(result->trouble, ::testing::HasSubstr("the robot falls: it tilts by"));
    EXPECT_GT(result->report.peak_tilt_rad(), AuditLimits::kFallTiltRad);
  }
}

TEST_F(SimulateGaitTest, SaysWhenTheBodySinks) {
  // Legs without stiffness, stops or control let the body down.
  robot_.clear_leg_controller();
  for (v1::Leg& leg : *robot_.mutable_legs()) {
    v1::LegCoordinate* lift = leg.mutable_lumped()->mutable_lift();
    lift->clear_bimorph();
    lift->set_stiffness_n_per_m(0.0);
    lift->set_stop_stiffness_n_per_m(0.0);
  }
  const auto result = Simulate(Coasting(), 0.0);
  ASSERT_THAT(result, test::IsOk());
  EXPECT_THAT(result->trouble, ::testing::HasSubstr("the robot falls: its body is"));
}

TEST_F(SimulateGaitTest, StopsWhenAsked) {
  stop_ = true;
  EXPECT_EQ(Simulate(Hop(), 0.45).status().code(), absl::StatusCode::kCancelled);
}

}  // namespace
}  // namespace gaitshelf::solver
