// A planned gait, replayed on the whole mechanism and on the compiled legs.
//
// Covers solver/replay/whole_plant.cc, solver/replay/model_plant.cc
#include <cmath>

#include <gtest/gtest.h>

#include "solver/plan/plan_gait.h"
#include "solver/replay/model_plant.h"
#include "solver/replay/simulate.h"
#include "solver/replay/whole_plant.h"
#include "tests/solver/replay/whole_samples.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

absl::StatusOr<Simulated> Replay(const test::WholeSample& sample,
                                 const GaitTrack& track,
                                 ReplayPlant* plant) {
  SimulateRequest request;
  request.plant = plant;
  request.track = &track;
  request.leg_controller = sample.robot.leg_controller();
  return SimulateGait(request);
}

TEST(PlannedReplayTest, WholeMechanismAndCompiledLegsAgree) {
  PlanRequest request;
  request.robot = test::ReadDemoRobot("weevil");
  request.surface = test::MakeSurface(0.45);
  request.order.set_robot(request.robot.name());
  request.order.set_surface(request.surface.name());
  request.order.set_stride_frequency_hz(12.0);
  request.order.mutable_task()->mutable_advance()->set_advance_m(0.009);
  const auto gait = PlanGait(request, {});
  ASSERT_THAT(gait, test::IsOk());
  ASSERT_EQ(gait->report().outcome(), v1::PLAN_OUTCOME_CONVERGED);

  const test::WholeSample sample = test::MakeWholeSample(0.45);
  const GaitTrack track = *GaitTrack::Create(*gait, sample.outline);
  WholePlant whole_plant(&sample.whole, &sample.outline);
  ModelPlant compiled_plant(&sample.outline);
  const auto whole = Replay(sample, track, &whole_plant);
  const auto compiled = Replay(sample, track, &compiled_plant);
  ASSERT_THAT(whole, test::IsOk());
  ASSERT_THAT(compiled, test::IsOk());
  ASSERT_EQ(whole->trouble, "");
  ASSERT_EQ(compiled->trouble, "");
  EXPECT_NEAR(whole->report.plan_ratio(), 1.0, 0.1);
  ASSERT_EQ(whole->report.cycle_advance_m_size(), compiled->report.cycle_advance_m_size());
  for (int i = 0; i < whole->report.cycle_advance_m_size(); ++i) {
    EXPECT_NEAR(whole->report.cycle_advance_m(i),
                compiled->report.cycle_advance_m(i),
                0.01 * whole->report.cycle_advance_m(i));
  }
  // They are two calculations: to the last digit they do not agree.
  EXPECT_NE(whole->report.advance_m(), compiled->report.advance_m());
  EXPECT_LT(std::abs(whole->report.energy_balance_ratio()), 1e-3);
  EXPECT_LT(whole->report.mechanism().loop_residual_m(), 1e-11);
}

}  // namespace
}  // namespace gaitshelf::solver
