#include "solver/plan/seed.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/plans.h"

namespace gaitshelf::solver {
namespace {

using testing::ElementsAre;

TEST(LimbPhasesTest, OfAQuadrupedAreThoseOfTheNamedGaits) {
  // Legs: front left, front right, rear left, rear right. Common practice, no source: trot pairs
  // the diagonals, pace the sides, bound front and rear, and a lateral-sequence walk goes rear
  // left, front left, rear right, front right.
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  EXPECT_THAT(LimbPhases(model, v1::SEED_PATTERN_TROT), ElementsAre(0.0, 0.5, 0.5, 0.0));
  EXPECT_THAT(LimbPhases(model, v1::SEED_PATTERN_PACE), ElementsAre(0.0, 0.5, 0.0, 0.5));
  EXPECT_THAT(LimbPhases(model, v1::SEED_PATTERN_BOUND), ElementsAre(0.0, 0.0, 0.5, 0.5));
  EXPECT_THAT(LimbPhases(model, v1::SEED_PATTERN_PRONK), ElementsAre(0.0, 0.0, 0.0, 0.0));
  EXPECT_THAT(LimbPhases(model, v1::SEED_PATTERN_WALK), ElementsAre(0.25, 0.75, 0.0, 0.5));
}

TEST(LimbPhasesTest, OfAHexapodTrotAreTwoTripods) {
  const RobotModel model =
      RobotModel::Create(test::MakeHexapod(), test::MakeSurface(0.45), Scale()).value();
  const std::vector<double> phases = LimbPhases(model, v1::SEED_PATTERN_TROT);
  ASSERT_EQ(phases.size(), 6U);
  EXPECT_EQ(std::count(phases.begin(), phases.end(), 0.0), 3);
  EXPECT_EQ(std::count(phases.begin(), phases.end(), 0.5), 3);
}

TEST(SeedAdvanceTest, StandingFeetStayOnOneSpotOfTheSurface) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = MakeStage(model, test::MakeAdvanceOrder(12.0, 0.009), {}, 40, false);
  FootKinematics now;
  FootKinematics next;
  int standing = 0;
  for (int k = 0; k + 1 < 40; ++k) {
    model.EvaluateFoot(stage.unknowns.coordinates.col(k), 0, false, &now);
    model.EvaluateFoot(stage.unknowns.coordinates.col(k + 1), 0, false, &next);
    if (now.position.z() < 1e-9 && next.position.z() < 1e-9) {
      ++standing;
      EXPECT_NEAR(next.position.x(), now.position.x(), 1e-9);
    }
  }
  EXPECT_GE(standing, 15);
}

TEST(SeedAdvanceTest, FootForcesCarryTheWeightAtEveryKnot) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = MakeStage(model, test::MakeAdvanceOrder(12.0, 0.009), {}, 40, false);
  for (int k = 0; k < 40; ++k) {
    double sum = 0.0;
    for (Eigen::Index i = 0; i < 4; ++i) {
      sum += stage.unknowns.controls(stage.problem.foot_control(i), k);
    }
    EXPECT_NEAR(sum, 1.0, 1e-12);
  }
}

// The force of a knot belongs to the height at the next one.
TEST(SeedAdvanceTest, FootForcesActWhereFeetStandAtTheEndOfTheInterval) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  const Stage stage = MakeStage(model, test::MakeAdvanceOrder(3.0, 0.009), {}, 40, false);
  for (int k = 0; k < 40; ++k) {
    const int next = stage.problem.knot_after(k);
    for (Eigen::Index i = 0; i < 4; ++i) {
      const double force = stage.unknowns.controls(stage.problem.foot_control(i), k);
      if (stage.problem.clearance_target(i, next) > 0.0) {
        EXPECT_EQ(force, 0.0) << k << " " << i;
      } else if (stage.problem.clearance_target(i, stage.problem.knot_after(next)) == 0.0) {
        // Not just about to leave the surface.
        EXPECT_GT(force, 0.0) << k << " " << i;
      }
    }
  }
}

TEST(SeedAdvanceTest, OuterFeetOfATurnGoFurther) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  v1::GaitOrder order = test::MakeAdvanceOrder(12.0, 0.006);
  order.mutable_task()->mutable_advance()->set_turn_rad(0.3);
  const Stage stage = MakeStage(model, order, {}, 40, false);
  const auto sweep = [&](Eigen::Index leg) {
    const auto swing = stage.unknowns.coordinates.row(model.base_count() + 2 * leg + 1);
    return swing.maxCoeff() - swing.minCoeff();
  };
  // Left legs are at even places; a turn to the left has its outer feet on the right.
  EXPECT_GT(sweep(1), 1.2 * sweep(0));
  EXPECT_GT(sweep(3), 1.2 * sweep(2));
  EXPECT_NEAR(stage.unknowns.coordinates(5, 20), 0.15, 1e-12);
}

}  // namespace
}  // namespace gaitshelf::solver
