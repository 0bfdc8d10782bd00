#include "solver/replay/replay_model.h"

#include <gtest/gtest.h>

#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

TEST(ReplayModelTest, HasHeightMassAndGravityOfOne) {
  const auto model = CreateReplayModel(test::MakeQuadruped(), test::MakeSurface(0.4));
  ASSERT_THAT(model, test::IsOk());
  EXPECT_NEAR(model->ReferencePosture()[2], 1.0, 1e-12);
  EXPECT_NEAR(model->total_mass(), 1.0, 1e-12);
  EXPECT_NEAR(model->gravity().norm(), 1.0, 1e-12);
}

TEST(ReplayModelTest, TakesARobotThatLiesOnTheSurface) {
  v1::Robot robot = test::MakeBody(1e-3, 1e-9);
  test::AddBodyFoot(&robot, 0.0, 0.0, 0.0);
  const auto model = CreateReplayModel(robot, test::MakeSurface(0.4));
  ASSERT_THAT(model, test::IsOk());
  EXPECT_EQ(model->scale().length_m, 1e-3);
}

}  // namespace
}  // namespace gaitshelf::solver
