#include "solver/calibrate/gait_unknowns.h"

#include <cmath>

#include <gtest/gtest.h>

#include "solver/robot/digest.h"
#include "tests/support/robots.h"

namespace gaitshelf::solver {
namespace {

TEST(GaitUnknownsTest, AreFrictionAndTheNumbersOfEveryLeg) {
  const v1::Robot robot = test::MakeQuadruped();
  const v1::Surface surface = test::MakeSurface(0.5);
  const GaitUnknowns unknowns = GaitUnknowns::Create(robot, surface, {}).value();
  ASSERT_EQ(unknowns.count(), 1 + 4 * 7);
  EXPECT_EQ(unknowns.subject(0).quantity, v1::CALIBRATION_QUANTITY_FRICTION);
  const Eigen::VectorXd none = Eigen::VectorXd::Zero(unknowns.count());
  EXPECT_EQ(RobotDigest(unknowns.RobotOf(none)), RobotDigest(robot));
  EXPECT_EQ(SurfaceDigest(unknowns.SurfaceOf(none)), SurfaceDigest(surface));
  for (Eigen::Index i = 0; i < unknowns.count(); ++i) {
    Eigen::VectorXd one = none;
    one[i] = 0.1;
    const bool is_friction = i == 0;
    EXPECT_EQ(RobotDigest(unknowns.RobotOf(one)) == RobotDigest(robot), is_friction) << i;
    EXPECT_EQ(SurfaceDigest(unknowns.SurfaceOf(one)) != SurfaceDigest(surface), is_friction) << i;
  }
}

TEST(GaitUnknownsTest, FactorsAreLogarithms) {
  const GaitUnknowns unknowns =
      GaitUnknowns::Create(test::MakeQuadruped(), test::MakeSurface(0.5), {}).value();
  Eigen::VectorXd logs = Eigen::VectorXd::Zero(unknowns.count());
  logs[0] = std::log(0.8);
  EXPECT_NEAR(unknowns.SurfaceOf(logs).friction_coefficient(), 0.4, 1e-12);
}

TEST(GaitUnknownsTest, WhatAnotherTestToldKeepsItsUncertainty) {
  const GaitUnknowns unknowns =
      GaitUnknowns::Create(test::MakeQuadruped(), test::MakeSurface(0.5), {{"friction", 0.01}})
          .value();
  EXPECT_TRUE(unknowns.is_told(0));
  EXPECT_EQ(unknowns.prior()[0], 0.01);
  EXPECT_FALSE(unknowns.is_told(1));
  // A fifth to either side, all alike: JCGM 100:2008, 4.3.7.
  EXPECT_NEAR(unknowns.prior()[1], 0.2 / std::sqrt(3.0), 1e-12);
}

TEST(GaitUnknownsTest, ASurfaceWithoutFrictionHasNoneToFind) {
  const GaitUnknowns unknowns =
      GaitUnknowns::Create(test::MakeQuadruped(), test::MakeSurface(0.0), {}).value();
  EXPECT_EQ(unknowns.count(), 4 * 7);
}

}  // namespace
}  // namespace gaitshelf::solver
