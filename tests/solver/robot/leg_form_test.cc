#include "solver/robot/leg_form.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/demo.h"
#include "tests/support/robots.h"

namespace gaitshelf::solver {
namespace {

TEST(LegFormTest, IsTheSameQuestionForBothForms) {
  const v1::Robot linkage = test::ReadDemoRobot("weevil");
  const v1::Robot lumped = test::MakeQuadruped();
  EXPECT_NEAR(TotalMass(linkage), 1.9e-3, 1e-12);
  EXPECT_NEAR(TotalMass(lumped), 1.9e-3, 1e-12);
  EXPECT_NEAR(LegMass(linkage.legs(0)), 21.7e-6, 1e-12);
  EXPECT_NEAR(LegMass(lumped.legs(0)), 4e-6, 1e-12);
  EXPECT_EQ(RestFoot(linkage.legs(1))[2], -0.011);
  EXPECT_EQ(RestFoot(lumped.legs(1))[2], -0.011);
  EXPECT_EQ(BimorphOf(linkage.legs(0), 0)->stiffness_n_per_m(), 90.0);
  EXPECT_EQ(BimorphOf(lumped.legs(0), 1)->stiffness_n_per_m(), 200.0);
}

TEST(LegFormTest, PassiveCoordinatesHaveNoBimorph) {
  v1::Robot linkage = test::ReadDemoRobot("weevil");
  linkage.mutable_legs(0)->mutable_linkage()->mutable_lift()->clear_drive();
  EXPECT_EQ(BimorphOf(linkage.legs(0), 0), nullptr);
  EXPECT_NE(BimorphOf(linkage.legs(0), 1), nullptr);
}

}  // namespace
}  // namespace gaitshelf::solver
