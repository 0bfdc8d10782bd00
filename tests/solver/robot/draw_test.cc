#include "solver/robot/draw.h"

#include <cmath>
#include <set>

#include <google/protobuf/util/message_differencer.h>
#include <gtest/gtest.h>

#include "tests/solver/robot/samples.h"

namespace gaitshelf::solver {
namespace {

using google::protobuf::util::MessageDifferencer;

v1::Robot RobotWith(double mass_ratio, double stiffness_ratio, double gain_ratio) {
  v1::Robot robot = test::SampleRobot();
  robot.mutable_uncertainty()->set_mass_ratio(mass_ratio);
  robot.mutable_uncertainty()->set_stiffness_ratio(stiffness_ratio);
  robot.mutable_uncertainty()->set_gain_ratio(gain_ratio);
  return robot;
}

v1::Robot Draw(const v1::Robot& robot, unsigned rng) {
  std::mt19937 generator(rng);
  return DrawRobot(robot, &generator);
}

TEST(DrawTest, GivesTheSameRobotWhenEverythingIsKnown) {
  const v1::Robot robot = RobotWith(0.0, 0.0, 0.0);
  EXPECT_TRUE(MessageDifferencer::Equals(Draw(robot, 3), robot));
}

TEST(DrawTest, ChangesTheKindOfNumberThatIsUncertain) {
  const v1::Robot robot = RobotWith(0.1, 0.0, 0.0);
  v1::Robot drawn = Draw(robot, 3);
  const double factor = drawn.body().mass_kg() / robot.body().mass_kg();
  EXPECT_NE(factor, 1.0);
  EXPECT_NEAR(drawn.body().inertia_kg_m2(2), factor * robot.body().inertia_kg_m2(2), 1e-15);
  EXPECT_NE(drawn.legs(0).lumped().foot_mass_kg(), robot.legs(0).lumped().foot_mass_kg());
  EXPECT_NE(drawn.legs(1).lumped().swing().bimorph().moving_mass_kg(),
            robot.legs(1).lumped().swing().bimorph().moving_mass_kg());
  EXPECT_EQ(drawn.legs(0).lumped().lift().stiffness_n_per_m(),
            robot.legs(0).lumped().lift().stiffness_n_per_m());
  EXPECT_EQ(drawn.legs(0).lumped().lift().bimorph().gain_n_per_v(),
            robot.legs(0).lumped().lift().bimorph().gain_n_per_v());

  drawn = Draw(RobotWith(0.0, 0.1, 0.0), 3);
  EXPECT_EQ(drawn.body().mass_kg(), robot.body().mass_kg());
  EXPECT_NE(drawn.legs(0).lumped().lift().stiffness_n_per_m(),
            robot.legs(0).lumped().lift().stiffness_n_per_m());
  EXPECT_NE(drawn.legs(0).lumped().lift().bimorph().stiffness_n_per_m(),
            robot.legs(0).lumped().lift().bimorph().stiffness_n_per_m());
  EXPECT_EQ(drawn.legs(0).lumped().lift().stop_stiffness_n_per_m(),
            robot.legs(0).lumped().lift().stop_stiffness_n_per_m());

  drawn = Draw(RobotWith(0.0, 0.0, 0.1), 3);
  EXPECT_NE(drawn.legs(0).lumped().lift().bimorph().gain_n_per_v(),
            robot.legs(0).lumped().lift().bimorph().gain_n_per_v());
  EXPECT_TRUE(MessageDifferencer::Equals(drawn.leg_controller(), robot.leg_controller()));
}

TEST(DrawTest, DrawsLegsApart) {
  const v1::Robot drawn = Draw(RobotWith(0.1, 0.1, 0.1), 5);
  EXPECT_NE(drawn.legs(0).lumped().foot_mass_kg(), drawn.legs(1).lumped().foot_mass_kg());
}

TEST(DrawTest, FollowsTheStatedDeviationAndCutsItOff) {
  const double ratio = 0.3;
  const v1::Robot robot = RobotWith(ratio, 0.0, 0.0);
  std::mt19937 generator(1);
  const int count = 4000;
  double sum = 0.0;
  double squares = 0.0;
  for (int i = 0; i < count; ++i) {
    const double factor =
        DrawRobot(robot, &generator).body().mass_kg() / robot.body().mass_kg() - 1.0;
    ASSERT_LE(std::abs(factor), 3.0 * ratio + 1e-12);
    sum += factor;
    squares += factor * factor;
  }
  // Five standard errors of the mean and of the deviation of a normal sample: s / sqrt(n) and
  // s / sqrt(2 n). The cutoff takes 1.3 % off the deviation.
  const double error = ratio / std::sqrt(static_cast<double>(count));
  EXPECT_NEAR(sum / count, 0.0, 5.0 * error);
  EXPECT_NEAR(std::sqrt(squares / count), 0.987 * ratio, 5.0 * error / std::sqrt(2.0));
}

TEST(DrawTest, RepeatsItselfForTheSameNumber) {
  const v1::Robot robot = RobotWith(0.1, 0.1, 0.1);
  EXPECT_TRUE(MessageDifferencer::Equals(Draw(robot, 7), Draw(robot, 7)));
  EXPECT_FALSE(MessageDifferencer::Equals(Draw(robot, 7), Draw(robot, 8)));
}

TEST(DrawTest, AbsenceStandsForTheDefaults) {
  v1::Robot bare = test::SampleRobot();
  bare.clear_uncertainty();
  EXPECT_EQ(StatedUncertainty(bare).mass_ratio(), 0.02);
  EXPECT_EQ(StatedUncertainty(bare).stiffness_ratio(), 0.05);
  EXPECT_EQ(StatedUncertainty(bare).gain_ratio(), 0.05);
  EXPECT_EQ(StatedUncertainty(RobotWith(0.0, 0.1, 0.2)).gain_ratio(), 0.2);
}

TEST(DrawTest, FrictionNeverGetsBelowZero) {
  v1::Surface surface = test::SampleSurface();
  surface.set_friction_coefficient(0.1);
  surface.set_friction_uncertainty_coefficient(0.1);
  std::mt19937 generator(1);
  std::set<double> seen;
  for (int i = 0; i < 200; ++i) {
    const double friction = DrawSurface(surface, &generator).friction_coefficient();
    EXPECT_GE(friction, 0.0);
    EXPECT_LE(friction, 0.4);
    seen.insert(friction);
  }
  EXPECT_GT(seen.size(), 100U);
  surface.set_friction_uncertainty_coefficient(0.0);
  EXPECT_EQ(DrawSurface(surface, &generator).friction_coefficient(), 0.1);
}

}  // namespace
}  // namespace gaitshelf::solver
