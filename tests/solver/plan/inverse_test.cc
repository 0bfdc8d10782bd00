#include "solver/plan/inverse.h"

#include <gtest/gtest.h>

#include "tests/support/plans.h"

namespace gaitshelf::solver {
namespace {

TEST(ReachFootTest, PutsTheFootWhereItIsAsked) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Eigen::VectorXd q = model.ReferencePosture();
  FootKinematics foot;
  model.EvaluateFoot(q, 1, false, &foot);
  const double x = foot.position.x() + 0.2;
  ReachFoot(model, 1, x, 0.1, &q);
  model.EvaluateFoot(q, 1, false, &foot);
  EXPECT_NEAR(foot.position.x(), x, 1e-12);
  EXPECT_NEAR(foot.position.z(), 0.1, 1e-12);
}

TEST(ReachFootTest, StopsAtTheEndOfTheTravel) {
  const RobotModel model = test::MakeScaledQuadruped(0.45);
  Eigen::VectorXd q = model.ReferencePosture();
  ReachFoot(model, 0, 5.0, 3.0, &q);
  EXPECT_DOUBLE_EQ(q(model.base_count()), model.travels()[0].upper);
  EXPECT_DOUBLE_EQ(q(model.base_count() + 1), model.travels()[1].upper);
}

}  // namespace
}  // namespace gaitshelf::solver
