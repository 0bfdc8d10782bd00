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

}  // namespace
}  // namespace gaitshelf::solver
