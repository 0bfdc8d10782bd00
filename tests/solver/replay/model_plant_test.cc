#include "solver/replay/model_plant.h"

#include <gtest/gtest.h>

#include "solver/replay/replay_model.h"
#include "tests/solver/replay/made_gaits.h"
#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

TEST(ModelPlantTest, StartsWhereThePlanIsAndGoesOnAsPlanned) {
  // A gait made by the same steps goes on through its knots when it is stepped as it was made.
  const v1::Robot robot = test::MakeQuadruped();
  const v1::Surface surface = test::MakeSurface(0.45);
  const RobotModel model = *CreateReplayModel(robot, surface);
  const GaitTrack track = *GaitTrack::Create(test::MakeHop(robot, surface), model);
  ModelPlant plant(&model);
  ASSERT_THAT(plant.StartOnPlan(track, track.knot_period()), test::IsOk());
  EXPECT_EQ((plant.Position() - track.Position(0)).norm(), 0.0);
  StepReport report;
  for (Index k = 0; k < 20; ++k) {
    ASSERT_THAT(plant.Step(track.Drives(k), track.knot_period(), &report), test::IsOk());
    EXPECT_LT((plant.Position() - track.Position(k + 1)).norm(), 1e-6) << k;
  }
  EXPECT_DOUBLE_EQ(plant.Energy(), model.Energy(plant.Position(), plant.Velocity()));
  EXPECT_EQ(&plant.outline(), &model);
  v1::ReplayReport filled;
  plant.FillReport(&filled);
  EXPECT_FALSE(filled.has_mechanism());
}

}  // namespace
}  // namespace gaitshelf::solver
