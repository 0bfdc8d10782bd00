#include <cmath>

#include <gtest/gtest.h>

#include "solver/leg/plane.h"
#include "solver/plan/law_blocks.h"
#include "solver/plan/seed.h"
#include "solver/plan/soft_blocks.h"
#include "tests/support/cycles.h"

namespace gaitshelf::solver {
namespace {

// A transition between two seeds, with all that it refers to.
struct Joined {
  Joined(const v1::GaitOrder& from_order, const v1::GaitOrder& to_order, int knot_count = 40)
      : gaits{test::MakeSeedGait(model, from_order, knot_count),
              test::MakeSeedGait(model, to_order, knot_count)},
        from(*GaitCycle::Create(gaits.from, model)),
        to(*GaitCycle::Create(gaits.to, model)) {
    v1::Transition& transition = *order.mutable_task()->mutable_transition();
    transition.set_from_phase_ratio(0.25);
    transition.set_to_phase_ratio(0.5);
    transition.set_cycle_count(2);
    seed = {&from, &to, PlaceTransition(transition, gaits)};
    stage = MakeStage(model, order, {}, seed.grid.knot_count, false, &seed);
  }

  RobotModel model = test::MakeScaledQuadruped(0.45);
  TransitionGaits gaits;
  GaitCycle from;
  GaitCycle to;
  v1::GaitOrder order;
  TransitionSeed seed;
  Stage stage;
};

// Coordinates as they are seen from where the other stands.
Eigen::VectorXd SeenFrom(const Eigen::VectorXd& other, Eigen::VectorXd q) {
  SetPlane(PlaneOf(other).Inverse().Then(PlaneOf(q)), &q);
  return q;
}

TEST(SeedTransitionTest, StartsAndEndsInItsGaitsUpToAMotionInThePlane) {
  for (const double turn_rad : {0.0, 0.2}) {
    v1::GaitOrder to_order = test::MakeAdvanceOrder(20.0, 0.006);
    to_order.mutable_task()->mutable_advance()->set_turn_rad(turn_rad);
    const Joined joined(test::MakeAdvanceOrder(12.0, 0.009), to_order);
    const Eigen::MatrixXd& q = joined.stage.unknowns.coordinates;
    const Eigen::Index last = q.cols() - 1;
    const Eigen::MatrixXd from =
        MakeStage(joined.model, test::MakeAdvanceOrder(12.0, 0.009), {}, 40, false)
            .unknowns.coordinates;
    const Eigen::MatrixXd to =
        MakeStage(joined.model, to_order, {}, 40, false).unknowns.coordinates;
    EXPECT_LT((SeenFrom(q.col(0), q.col(0)) - SeenFrom(from.col(10), from.col(10))).norm(), 1e-12);
    // The velocity of the first gait, which advances 9 mm at 12 Hz.
    EXPECT_NEAR((q(0, 1) - q(0, 0)) / joined.stage.problem.knot_period,
                9.0 / 11.0 / joined.from.period(),
                1e-9);
    EXPECT_LT((SeenFrom(q.col(last), q.col(last)) - SeenFrom(to.col(20), to.col(20))).norm(),
              1e-12);
    EXPECT_LT((SeenFrom(q.col(last), q.col(last - 1)) - SeenFrom(to.col(20), to.col(19))).norm(),
              1e-12);
  }
}

TEST(SeedTransitionTest, GoesAsFarAsTheMeanOfBothCycles) {
  const Joined joined(test::MakeAdvanceOrder(12.0, 0.009), test::MakeAdvanceOrder(20.0, 0.006));
  const Eigen::MatrixXd& q = joined.stage.unknowns.coordinates;
  // 1.25 cycles of 7.5 mm; a little less, for more of them are the second gait's.
  EXPECT_NEAR(q(0, q.cols() - 1) - q(0, 0), 1.25 * 7.5 / 11.0, 0.04);
  for (Eigen::Index k = 1; k < q.cols(); ++k) {
    EXPECT_GT(q(0, k), q(0, k - 1)) << k;
  }
}

TEST(SeedTransitionTest, IsTheGaitItselfWhereItLeadsFromAGaitIntoTheSame) {
  const v1::GaitOrder order = test::MakeAdvanceOrder(12.0, 0.009);
  const Joined joined(order, order);
  const Eigen::MatrixXd& q = joined.stage.unknowns.coordinates;
  const Eigen::MatrixXd cycle = MakeStage(joined.model, order, {}, 40, false).unknowns.coordinates;
  ASSERT_EQ(q.cols(), 1 + 50);
  for (Eigen::Index k = 0; k < q.cols(); ++k) {
    EXPECT_LT((q.col(k) - cycle.col((10 + k) % 40)).tail(8).norm(), 1e-9) << k;
  }
}

// The heights at which the second gait's feet stand go with its own smoothing, and no other.
TEST(SeedTransitionTest, TakesTheSmoothingOfTheSecondGaitForTheFeetThatItFixes) {
  constexpr double kSmoothing = 5e-4;
  const v1::GaitOrder order = test::MakeAdvanceOrder(12.0, 0.009);
  Joined joined(order, order);
  const PlanProblem& problem = joined.stage.problem;
  const double product = kSmoothing * kSmoothing * problem.contact.gap * problem.contact.force;
  v1::Gait gait = joined.gaits.to;
  for (int k = 0; k < 40; ++k) {
    gait.set_body_position_m(3 * k + 2, gait.body_position_m(3 * k + 2) + 1e-5);
  }
  const GaitCycle lifted = *GaitCycle::Create(gait, joined.model);
  FootKinematics foot;
  for (int k = 0; k < 40; ++k) {
    for (int i = 0; i < 4; ++i) {
      joined.model.EvaluateFoot(lifted.Relative((k + 1) / 40.0), i, false, &foot);
      gait.set_foot_force_n(12 * k + 3 * i + 2,
                            product / foot.position.z() * joined.model.scale().force_n());
    }
  }
  const GaitCycle to = *GaitCycle::Create(gait, joined.model);
  const TransitionSeed seed = {&joined.from, &to, joined.seed.grid};
  const Stage stage =
      MakeStage(joined.model, joined.order, {}, joined.seed.grid.knot_count, false, &seed);
  EXPECT_NEAR(stage.problem.fixed_foot_smoothing, kSmoothing, 1e-6);
}

TEST(SeedTransitionTest, JacobiansMatchCentralDifferences) {
  Joined joined(test::MakeAdvanceOrder(12.0, 0.009), test::MakeAdvanceOrder(20.0, 0.006), 12);
  test::Shake(0.02, 3, &joined.stage.unknowns);
  const PlanProblem& problem = joined.stage.problem;
  test::ExpectJacobiansMatch(
      &joined.stage, 1e-5, [&](auto* evaluation, auto* state, auto* unknowns, auto* rows) {
        for (int k = problem.first_free_knot(); k < problem.end_free_knot(); ++k) {
          AddDynamicsBlock(evaluation, state, k, unknowns, rows);
          AddContactBlock(evaluation, state, k, unknowns, rows);
          AddAccelerationBlock(evaluation, state, k, unknowns, rows);
        }
      });
}

}  // namespace
}  // namespace gaitshelf::solver
