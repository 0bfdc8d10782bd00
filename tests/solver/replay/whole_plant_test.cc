#include "solver/replay/whole_plant.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "solver/replay/model_plant.h"
#include "solver/replay/simulate.h"
#include "tests/solver/replay/whole_samples.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using Eigen::VectorXd;

class WholePlantTest : public ::testing::Test {
 protected:
  test::WholeSample sample_ = test::MakeWholeSample(0.45);
};

TEST_F(WholePlantTest, StartsWhereThePlanIs) {
  const GaitTrack track = *GaitTrack::Create(test::MakeSwaying(sample_, 1e-3), sample_.outline);
  WholePlant plant(&sample_.whole, &sample_.outline);
  ASSERT_THAT(plant.StartOnPlan(track, 0.25 * track.knot_period()), test::IsOk());
  EXPECT_LT((plant.Position() - track.Position(0)).norm(), 1e-14);
  const VectorXd velocity = (track.Position(0) - track.Position(-1)) / track.knot_period();
  EXPECT_LT((plant.Velocity() - velocity).norm(), 1e-11);
}

TEST_F(WholePlantTest, MovesAsTheCompiledLegsDo) {
  const GaitTrack track = *GaitTrack::Create(test::MakeSwaying(sample_, 1e-3), sample_.outline);
  WholePlant whole(&sample_.whole, &sample_.outline);
  ModelPlant compiled(&sample_.outline);
  const double h = 0.1 * track.knot_period();
  ASSERT_THAT(whole.StartOnPlan(track, h), test::IsOk());
  ASSERT_THAT(compiled.StartOnPlan(track, h), test::IsOk());
  StepReport report, other;
  for (int i = 0; i < 10 * static_cast<int>(track.knot_count()); ++i) {
    const VectorXd u = track.Drives(i / 10);
    ASSERT_THAT(whole.Step(u, h, &report), test::IsOk());
    ASSERT_THAT(compiled.Step(u, h, &other), test::IsOk());
  }
  // They start from different discrete momenta, and step by different rules.
  EXPECT_GT((whole.Position() - track.Position(0)).norm(), 1e-3);
  EXPECT_LT((whole.Position() - compiled.Position()).norm(), 2e-3);
  EXPECT_NEAR(whole.Energy(), compiled.Energy(), 1e-3);
}

TEST_F(WholePlantTest, SaysWhenThePlannedPostureIsOutOfReach) {
  v1::Gait gait = test::MakeSwaying(sample_, 0.0);
  gait.set_leg_position_m(2, 0.05);
  const GaitTrack track = *GaitTrack::Create(gait, sample_.outline);
  WholePlant plant(&sample_.whole, &sample_.outline);
  SimulateRequest request;
  request.plant = &plant;
  request.track = &track;
  const auto simulated = SimulateGait(request);
  ASSERT_THAT(simulated, test::IsOk());
  EXPECT_THAT(simulated->trouble,
              ::testing::HasSubstr("cannot take the planned posture: leg front-right"));
}

TEST_F(WholePlantTest, ReportsLoadsOfTheReplay) {
  const GaitTrack track = *GaitTrack::Create(test::MakeSwaying(sample_, 1e-3), sample_.outline);
  WholePlant plant(&sample_.whole, &sample_.outline);
  SimulateRequest request;
  request.plant = &plant;
  request.track = &track;
  request.leg_controller = sample_.robot.leg_controller();
  request.cycle_count = 2;
  const auto simulated = SimulateGait(request);
  ASSERT_THAT(simulated, test::IsOk());
  EXPECT_EQ(simulated->trouble, "");
  const v1::MechanismReport& mechanism = simulated->report.mechanism();
  EXPECT_EQ(mechanism.coordinate_count(), 38);
  EXPECT_GT(mechanism.most_bent().angle_rad(), 0.05);
  EXPECT_GT(mechanism.most_strained().strain_ratio(), 1e-3);
  // The lift links carry some four times the load of their feet.
  EXPECT_EQ(mechanism.most_loaded().flexure(), "g");
  EXPECT_GT(mechanism.most_loaded().force_n(), 0.02);
  EXPECT_LT(mechanism.loop_residual_m(), 1e-11);
  EXPECT_LT(std::abs(simulated->report.energy_balance_ratio()), 0.01);
}

}  // namespace
}  // namespace gaitshelf::solver
