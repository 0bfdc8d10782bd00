#include "solver/plan/gait_cycle.h"

#include <cmath>

#include <gtest/gtest.h>

#include "solver/leg/plane.h"
#include "tests/support/cycles.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

TEST(GaitCycleTest, HasTheKnotsOfTheGait) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  for (const v1::GaitOrder& order : {test::MakeAdvanceOrder(12.0, 0.009), test::MakeTurnOrder()}) {
    const Stage stage = MakeStage(model, order, {}, 20, false);
    const auto cycle = GaitCycle::Create(test::MakeSeedGait(model, order, 20), model);
    ASSERT_THAT(cycle, test::IsOk());
    EXPECT_NEAR(cycle->period(), 20 * stage.problem.knot_period, 1e-12);
    for (int k = 0; k < 20; ++k) {
      Eigen::VectorXd q = cycle->Relative(k / 20.0);
      SetPlane(cycle->motion().Times(k / 20.0).End().Then(PlaneOf(q)), &q);
      EXPECT_LT((q - stage.unknowns.coordinates.col(k)).norm(), 1e-12) << k;
      EXPECT_LT((cycle->Drives(k / 20.0) - stage.unknowns.controls.col(k).head(8)).norm(), 1e-12);
    }
  }
}

TEST(GaitCycleTest, SeesForcesFromWhereTheSteadyBodyWouldBe) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  v1::Gait gait = test::MakeSeedGait(model, test::MakeTurnOrder(), 20);
  const double force_n = model.scale().force_n();
  gait.set_foot_force_n(12 * 10, 0.2 * force_n);  // along x, half a cycle and half its turn later
  gait.set_foot_force_n(12 * 10 + 1, 0.0);
  const auto cycle = GaitCycle::Create(gait, model);
  ASSERT_THAT(cycle, test::IsOk());
  const double turned_rad = 0.5 * gait.turn_rad();
  EXPECT_NEAR(cycle->FootForces(0.5)(0), 0.2 * std::cos(turned_rad), 1e-12);
  EXPECT_NEAR(cycle->FootForces(0.5)(1), -0.2 * std::sin(turned_rad), 1e-12);
}

TEST(GaitCycleTest, ComesRoundAndRunsSmoothlyBetweenItsKnots) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  const auto cycle = GaitCycle::Create(test::MakeSeedGait(model, test::MakeTurnOrder(), 40), model);
  ASSERT_THAT(cycle, test::IsOk());
  EXPECT_EQ(cycle->Relative(0.3125), cycle->Relative(-0.6875));
  EXPECT_EQ(cycle->Relative(0.0), cycle->Relative(1.0));
  // A cubic with the tangents of central differences has no step in place or rate at a knot.
  constexpr double kStep = 1e-6;
  for (const double knot : {0.0, 0.25, 0.5}) {
    const Eigen::VectorXd before = cycle->Relative(knot) - cycle->Relative(knot - kStep);
    const Eigen::VectorXd after = cycle->Relative(knot + kStep) - cycle->Relative(knot);
    EXPECT_LT((after - before).norm(), 1e-2 * kStep) << knot;
  }
}

TEST(GaitCycleTest, RefusesArraysThatDoNotFit) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  v1::Gait gait = test::MakeSeedGait(model, test::MakeAdvanceOrder(12.0, 0.009), 20);
  gait.mutable_voltage_v()->RemoveLast();
  EXPECT_THAT(GaitCycle::Create(gait, model),
              test::HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("g-seed")));
}

}  // namespace
}  // namespace gaitshelf::solver
