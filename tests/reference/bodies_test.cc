// Blocks and discs on a surface against closed forms: tipping, rocking, spinning while sliding.
// Each is a robot without legs, played by the replay's own step.
#include <cmath>
#include <vector>

#include <gtest/gtest.h>

#include "tests/reference/play.h"
#include "tests/support/robots.h"

namespace gaitshelf::solver {
namespace {

using Eigen::VectorXd;
using test::kG;
using test::Play;

constexpr double kDegree = M_PI / 180.0;

// A block of 2 half_x by 2 half_y by 2 half_z on four feet, uniform.
v1::Robot Block(double mass_kg, double half_x, double half_y, double half_z) {
  v1::Robot robot = test::MakeBody(mass_kg, 1.0);
  const double third = mass_kg / 3.0;
  test::SetVector(robot.mutable_body()->mutable_inertia_kg_m2(),
                  third * (half_y * half_y + half_z * half_z),
                  third * (half_x * half_x + half_z * half_z),
                  third * (half_x * half_x + half_y * half_y));
  for (const double x : {half_x, -half_x}) {
    for (const double y : {half_y, -half_y}) {
      test::AddBodyFoot(&robot, x, y, -half_z);
    }
  }
  return robot;
}

// A uniform block of base b and height h on a slope tips when tan(slope) > b / h. Here b 0.1, h
// 0.2: 26.565 degrees. Elementary statics, from memory.
TEST(TippingTest, BlockOnASlopeTipsPastItsBase) {
  const double tip_rad = std::atan(0.5);
  ASSERT_NEAR(tip_rad / kDegree, 26.56505117707799, 1e-12);
  const v1::Robot block = Block(1.0, 0.05, 0.03, 0.1);
  for (const double change : {-1e-3, 1e-3}) {
    Play play(block, 1.0, tip_rad + change, 1e-3);
    play.Slide(0.0, 0.0);
    for (int i = 0; i < 200; ++i) {
      play.Step();
    }
    if (change < 0.0) {
      EXPECT_LT(std::abs(play.q()[4]), 1e-9);
    } else {
      // It turns about its lower edge, slowly at first: its centre is 1e-3 rad past the edge.
      EXPECT_LT(play.q()[4], -1e-4);
    }
  }
}

// A push at height y tips a block of base b before it slides when friction > b / (2 y). A robot is
// pushed by nothing but its feet, so the block is braked instead: friction at the base and inertia
// at the centre, y above it, are the same pair of forces. Here b 0.1, y 0.1: 0.5.
TEST(TippingTest, SlidingBlockTipsWhenFrictionPassesHalfTheBaseOverTheHeight) {
  const v1::Robot block = Block(1.0, 0.05, 0.03, 0.1);
  for (const double friction : {0.49, 0.51}) {
    Play play(block, friction, 0.0, 1e-4);
    play.Slide(1.0, 0.0);
    for (int i = 0; i < 1000; ++i) {
      play.Step();
    }
    if (friction < 0.5) {
      EXPECT_LT(std::abs(play.q()[4]), 1e-9);
      EXPECT_NEAR(play.v()[0], 1.0 - friction * kG * 0.1, 1e-9);
    } else {
      EXPECT_GT(play.q()[4], 1e-4) << "the tail comes up";
    }
  }
}

constexpr double kRockingAngle = 0.2;                // between diagonal and side
constexpr double kHalfBase = 1.98669330795061e-3;    // 10 mm times its sine
constexpr double kHalfHeight = 9.80066577841242e-3;  // and cosine

v1::Robot RockingBlock() { return Block(1e-3, kHalfBase, 3e-3, kHalfHeight); }

// Tilted on its front edge.
VectorXd RockingPosture(double tilt_rad) {
  VectorXd q = VectorXd::Zero(6);
  q[4] = tilt_rad;
  q[2] = kHalfBase * std::sin(tilt_rad) + kHalfHeight * std::cos(tilt_rad);
  return q;
}

// A rocking block of half diagonal R, whose diagonal makes the angle a with its side: from rest at
// theta_0 to the first impact it takes a quarter period. G. W. Housner, Bull. Seismol. Soc. Am. 53
// (1963) 403-417 (from memory) for the linear form acosh(1 / (1 - theta_0 / a)) / p, p^2 = 3 g / (4
// R); the values below are those of the nonlinear equation theta'' = -p^2 sin(a - theta), computed
// apart from this program for a 0.2, R 10 mm.
TEST(RockingBlockTest, TakesItsQuarterPeriod) {
  struct Row {
    double share, quarter_s;
  };
  for (const Row& row : {Row{0.1, 0.017270518205054885},
                         Row{0.3, 0.03307991707259193},
                         Row{0.5, 0.04860897319573677},
                         Row{0.8, 0.0845530841818237},
                         Row{0.95, 0.13600548857864017}}) {
    constexpr double kStep = 2e-5;
    Play play(RockingBlock(), 1.0, 0.0, kStep);
    const double tilt = row.share * kRockingAngle;
    play.Start(RockingPosture(tilt), VectorXd::Zero(6));
    double time_s = 0.0;
    double last = tilt;
    while (play.report().foot_forces.size() == 0 || play.q()[4] > 1e-9) {
      last = play.q()[4];
      play.Step();
      ASSERT_FALSE(HasFatalFailure());
      time_s += kStep;
      ASSERT_LT(time_s, 0.2);
    }
    ASSERT_GT(last, 0.0);
    EXPECT_NEAR(time_s, row.quarter_s, 2.0 * kStep) << row.share;
  }
}

// Energy never grows, and after each impact the block is slower. Housner's ratio of rates is 1
// - 1.5 sin^2 a = 0.9407957 (same source). A stepping scheme may split the impulse among the
// corners in another way (common practice, no source); this one takes Housner's but for the order
// of the step.
TEST(RockingBlockTest, LosesRateAtEveryImpact) {
  constexpr double kStep = 2e-5;
  Play play(RockingBlock(), 1.0, 0.0, kStep);
  play.Start(RockingPosture(0.1), VectorXd::Zero(6));
  const double start = play.model().Energy(play.q(), play.v());
  double last = start;
  double rate = 0.0;
  std::vector<double> impact_rates;
  for (int i = 0; i < 20000; ++i) {
    const bool was_front = play.q()[4] > 0.0;
    rate = play.v()[4];
    play.Step();
    ASSERT_FALSE(HasFatalFailure());
    if (was_front != (play.q()[4] > 0.0)) {
      impact_rates.push_back(std::abs(rate));
    }
    const double energy = play.model().Energy(play.q() - 0.5 * kStep * play.v(), play.v());
    ASSERT_LE(energy, last + 1e-6 * start) << i;
    last = energy;
  }
  ASSERT_GT(impact_rates.size(), 5u);
  for (size_t i = 1; i < impact_rates.size(); ++i) {
    EXPECT_NEAR(impact_rates[i] / impact_rates[i - 1], 0.9407957, 2e-3) << i;
  }
}

// A flat disc of radius 1 and mass 1 that lies on 64 feet of equal shares of its area: four
// times as many as a description allows, which the model does not mind.
v1::Robot FootedDisc() {
  v1::Robot robot = test::MakeBody(1.0, 0.5);
  test::SetVector(robot.mutable_body()->mutable_inertia_kg_m2(), 0.25, 0.25, 0.5);
  constexpr int kCount = 64;
  const double golden = M_PI * (3.0 - std::sqrt(5.0));
  Eigen::Matrix2Xd points(2, kCount);
  for (int i = 0; i < kCount; ++i) {
    points.col(i) =
        std::sqrt((i + 0.5) / kCount) * Eigen::Vector2d(std::cos(i * golden), std::sin(i * golden));
  }
  points.colwise() -= Eigen::Vector2d(points.rowwise().mean());
  for (int i = 0; i < kCount; ++i) {
    test::AddBodyFoot(&robot, points(0, i), points(1, i), 0.0);
  }
  return robot;
}

// A body that spins and slides on a flat face stops doing both at once, and just before it the
// speed is 0.653 times radius times rate for a uniform disc, however it began: Z. Farkas, G.
// Bartels, T. Unger and D. E. Wolf, Phys. Rev. Lett. 90 (2003) 248302 (the figure from memory;
// 0.652999 computed apart from this program). End time, way and turn are those of the same 64 feet
// integrated by SciPy (solve_ivp, 1e-10). The feet begin with equal loads, which stay equal, since
// the centre of mass lies in their plane.
TEST(SlidingDiscTest, StopsSpinAndSlideAtOnceWithTheKnownRatio) {
  constexpr double kStep = 2.5e-4;
  struct Row {
    double ratio, time_s, way_m, turn_rad;
  };
  for (const Row& row : {Row{0.4, 0.377522, 0.09973562, 0.23087956},
                         Row{1.0, 0.227704, 0.05415815, 0.06152545},
                         Row{2.0, 0.190529, 0.04522511, 0.02913881}}) {
    Play play(FootedDisc(), 0.3, 0.0, kStep);
    play.Slide(0.5, 0.0, 0.5 / row.ratio);
    play.ShareLoad();
    double last_ratio = row.ratio;
    int steps = 0;
    do {
      play.Step();
      ASSERT_FALSE(HasFatalFailure());
      ++steps;
      if (play.v()[0] > 4e-3) {
        last_ratio = play.v()[0] / play.v()[5];
      }
    } while (play.v().norm() > 1e-6 && steps < 2000);
    EXPECT_NEAR(steps * kStep, row.time_s, 3.0 * kStep) << row.ratio;
    EXPECT_NEAR(play.q()[0], row.way_m, 0.5 * kStep) << row.ratio;
    EXPECT_NEAR(play.q()[5], row.turn_rad, 0.6 * kStep / row.ratio) << row.ratio;
    // Still under way to its end when the speed is down to 1/100, so within 10 %.
    EXPECT_NEAR(last_ratio, 0.653, 0.0653) << row.ratio;
  }
}

// Spinning alone, a body of inertia I on feet at radius a stops after I w / (mu m g a); a disc
// after 3 R w / (4 mu g), here within 1 % for its 64 feet. Elementary, from memory.
TEST(SpinTest, StopsAfterItsClosedForm) {
  constexpr double kStep = 2.5e-4;
  v1::Robot tripod = test::MakeBody(1.0, 0.5);
  for (const double angle : {0.0, 2.0 * M_PI / 3.0, 4.0 * M_PI / 3.0}) {
    test::AddBodyFoot(&tripod, 0.8 * std::cos(angle), 0.8 * std::sin(angle), 0.0);
  }
  struct Case {
    v1::Robot robot;
    double time_s;
  };
  for (const Case& at :
       {Case{tripod, 0.5 / (0.3 * kG * 0.8)}, Case{FootedDisc(), 3.0 / (1.2 * kG)}}) {
    Play play(at.robot, 0.3, 0.0, kStep);
    play.Slide(0.0, 0.0, 1.0);
    play.ShareLoad();
    int steps = 0;
    do {
      play.Step();
      ASSERT_FALSE(HasFatalFailure());
      ++steps;
    } while (play.v().norm() > 1e-6 && steps < 4000);
    EXPECT_NEAR(steps * kStep, at.time_s, 0.01 * at.time_s);
    EXPECT_LT(play.q().head<2>().norm(), 1e-3);
  }
}

// A block set down on a belt that runs at 0.5 m/s, friction 0.4: it sticks after v / (mu g) =
// 0.127421 s, having slipped v^2 / (2 mu g) = 31.855 mm, and turns v^2 / 2 = 0.125 J/kg into heat.
// Elementary, from memory. Surfaces do not move here, so the block moves in the belt's frame.
TEST(ConveyorTest, BlockTakesTheBeltsSpeed) {
  constexpr double kStep = 1e-4;
  Play play(Block(1.0, 0.05, 0.03, 0.01), 0.4, 0.0, kStep);
  play.Slide(-0.5, 0.0);
  double slip_m = 0.0, work_j = 0.0;
  int steps = 0;
  do {
    play.Step();
    ASSERT_FALSE(HasFatalFailure());
    ++steps;
    slip_m += play.report().foot_motion(0, 0);
    work_j += play.report().contact_work;
  } while (play.v().head<3>().norm() > 1e-6 && steps < 2000);
  EXPECT_NEAR(steps * kStep, 0.127420998980632, 2.0 * kStep);
  EXPECT_NEAR(-slip_m, 0.031855249745158, 0.5 * kStep);
  EXPECT_NEAR(-work_j, 0.125, 0.5 * kStep);
}

}  // namespace
}  // namespace gaitshelf::solver
