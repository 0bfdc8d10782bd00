#include "solver/leg/plane.h"

#include <cmath>

#include <gtest/gtest.h>

#include "tests/support/robots.h"

namespace gaitshelf::solver {
namespace {

TEST(PlaneTest, AStraightMotionMovesXAlone) {
  Eigen::VectorXd q = Eigen::VectorXd::LinSpaced(14, 0.1, 1.4);
  const Eigen::VectorXd before = q;
  MoveOn({0.5, 0.0, 0.0}, &q);
  EXPECT_EQ(q(0), before(0) + 0.5);
  EXPECT_EQ(q.tail(13), before.tail(13));
}

// Feet move with a turned body as points of a turned plane do.
TEST(PlaneTest, ATurnCarriesTheFeetAlong) {
  const RobotModel model =
      RobotModel::Create(test::MakeQuadruped(), test::MakeSurface(0.4), Scale()).value();
  Eigen::VectorXd q = model.ReferencePosture();
  q(1) = 0.003;
  q(3) = 0.05;
  q(4) = -0.08;
  q(5) = 0.2;
  Eigen::VectorXd moved = q;
  const PlanarMotion motion = {0.009, 0.002, 0.6};
  MoveOn(motion, &moved);
  FootKinematics before, after;
  for (Eigen::Index foot = 0; foot < model.foot_count(); ++foot) {
    model.EvaluateFoot(q, foot, false, &before);
    model.EvaluateFoot(moved, foot, false, &after);
    const PlanarPose end = motion.End().Then({before.position.x(), before.position.y(), 0.0});
    EXPECT_NEAR(after.position.x(), end.x, 1e-15);
    EXPECT_NEAR(after.position.y(), end.y, 1e-15);
    EXPECT_NEAR(after.position.z(), before.position.z(), 1e-15);
  }
  EXPECT_EQ(PlaneOf(moved).heading, moved(5));
}

TEST(PlaneTest, TheLeverOfATurnIsTheFeetsDistance) {
  const RobotModel model =
      RobotModel::Create(test::MakeQuadruped(), test::MakeSurface(0.4), Scale()).value();
  FootKinematics foot;
  model.EvaluateFoot(model.ReferencePosture(), 0, false, &foot);
  // The quadruped's feet are at the corners of a rectangle about the body frame.
  EXPECT_NEAR(TurnLever(model), foot.position.head<2>().norm(), 1e-12);
}

}  // namespace
}  // namespace gaitshelf::solver
