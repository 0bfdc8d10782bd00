#include <gtest/gtest.h>

#include "solver/plan/seed.h"
#include "tests/support/plans.h"

namespace gaitshelf::solver {
namespace {

TEST(TimeHopTest, FlightIsTheBallisticOneForTheRise) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  const double rise = 9.0 / 11.0;
  const HopTiming timing = TimeHop(model, rise);
  // A body thrown up at v is back after 2 v / g; the rise beyond the legs' extension is v^2 / (2
  // g).
  const double extension = 0.8 * 2.0 / 11.0;
  EXPECT_NEAR(timing.flight, 2.0 * std::sqrt(2.0 * (rise - extension)), 1e-9);
}

TEST(SeedHopTest, StartsAndEndsAtRestOnTheSurface) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  const Stage stage = MakeStage(model, test::MakeHopOrder(0.009), {}, 60, false);
  const Eigen::MatrixXd& q = stage.unknowns.coordinates;
  EXPECT_EQ(q.col(0), q.col(1));
  EXPECT_EQ(q.col(58), q.col(59));
  EXPECT_EQ(q.col(0), q.col(59));
}

TEST(SeedHopTest, AsksForTheRiseAtTheApex) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  const Stage stage = MakeStage(model, test::MakeHopOrder(0.009), {}, 60, false);
  ASSERT_TRUE(stage.problem.apex.has_value());
  const double standing = stage.unknowns.coordinates(2, 0);
  EXPECT_NEAR(stage.problem.apex->height - standing, 9.0 / 11.0, 1e-12);
  EXPECT_NEAR(stage.unknowns.coordinates.row(2).maxCoeff() - standing, 9.0 / 11.0, 0.02);
}

TEST(SeedHopTest, GoesForwardInTheAirAndLandsAtTheDistance) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  v1::GaitOrder order = test::MakeHopOrder(0.009);
  order.mutable_task()->mutable_hop()->set_advance_m(0.0055);
  const Stage stage = MakeStage(model, order, {}, 160, false);
  const Eigen::MatrixXd& q = stage.unknowns.coordinates;
  EXPECT_EQ(q(0, 0), 0.0);
  EXPECT_EQ(q(0, 1), 0.0);
  EXPECT_NEAR(q(0, 159), 0.5, 1e-12);
  EXPECT_NEAR(q(0, 158), 0.5, 1e-12);
  EXPECT_NEAR(q.row(0)[stage.problem.apex->knot], 0.25, 0.01);
  FootKinematics before, now;
  model.EvaluateFoot(q.col(0), 0, false, &before);
  for (int k = 1; k < 160; ++k) {
    EXPECT_GE(q(0, k), q(0, k - 1) - 1e-12) << k;
    model.EvaluateFoot(q.col(k), 0, false, &now);
    if (now.position.z() < 1e-9) {
      const double gone = now.position.x() - before.position.x();
      EXPECT_LT(std::min(std::abs(gone), std::abs(gone - 0.5)), 0.02) << k;
    }
  }
}

}  // namespace
}  // namespace gaitshelf::solver
