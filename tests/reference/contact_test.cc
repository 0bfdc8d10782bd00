// Contact and friction against closed forms. Blocks and point masses are robot descriptions without
// legs, played through the replay's own step.
//
// Where no source is named the closed form is elementary mechanics (Coulomb friction, free fall):
// from memory, recomputed.
#include <cmath>
#include <random>
#include <vector>

#include <gtest/gtest.h>

#include "tests/reference/play.h"
#include "tests/support/robots.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::Vector2d;
using Eigen::VectorXd;

using test::kG;
using test::kMotionTolerance;
using test::Play;

v1::Robot PointMass(double mass_kg = 1.0) {
  v1::Robot robot = test::MakeBody(mass_kg, 1e-3);
  test::AddBodyFoot(&robot, 0.0, 0.0, 0.0);
  return robot;
}

// A block of 100 x 60 x 20 mm on four feet.
v1::Robot Block(double mass_kg = 1.0) {
  v1::Robot robot = test::MakeBody(mass_kg, 1e-3 * mass_kg);
  for (const double x : {0.05, -0.05}) {
    for (const double y : {0.03, -0.03}) {
      test::AddBodyFoot(&robot, x, y, -0.01);
    }
  }
  return robot;
}

struct SlidingCase {
  double speed, friction, h, distance;
};

class SlidingBlockTest : public ::testing::TestWithParam<SlidingCase> {};

// A sliding block stops after v0^2 / (2 mu g). With Coulomb's law at the end of each step and n =
// floor(v0 / (mu g h)) sliding steps the scheme's own answer is h (n v0 - mu g h n (n + 1) / 2);
// the table holds it, recomputed apart from this program.
TEST_P(SlidingBlockTest, StopsAtTheSchemesOwnDistance) {
  const SlidingCase& one = GetParam();
  for (const v1::Robot& robot : {PointMass(), Block()}) {
    Play play(robot, one.friction, 0.0, one.h);
    play.Slide(one.speed, 0.0);
    for (int i = 0; i < 200; ++i) {
      play.Step();
    }
    EXPECT_NEAR(play.q()[0], one.distance, 1e-9);
    EXPECT_NEAR(play.v()[0], 0.0, 1e-9);
    const double exact = one.speed * one.speed / (2.0 * one.friction * kG);
    EXPECT_LT(std::abs(play.q()[0] - exact), 0.51 * one.speed * one.h);
  }
}

INSTANTIATE_TEST_SUITE_P(Cases,
                         SlidingBlockTest,
                         ::testing::Values(SlidingCase{1.0, 0.3, 0.01, 0.1648977},
                                           SlidingCase{1.0, 0.3, 0.005, 0.16739615},
                                           SlidingCase{1.0, 0.3, 0.0025, 0.168645375},
                                           SlidingCase{0.2, 0.5, 0.001, 0.0039779},
                                           SlidingCase{0.05, 0.8, 0.0005, 0.000146964}));

TEST(InclineTest, SticksOrSlidesByTheFrictionAngle) {
  constexpr double kStep = 1e-3;
  constexpr int kSteps = 100;
  for (const double degrees : {10.0, 20.0, 30.0, 45.0}) {
    const double slope = degrees * M_PI / 180.0;
    for (const double friction : {0.1, 0.3, 0.5774, 0.6, 1.1}) {
      Play play(PointMass(), friction, slope, kStep);
      play.Slide(0.0, 0.0);
      for (int i = 0; i < kSteps; ++i) {
        play.Step();
      }
      // a = g (sin - mu cos) down the slope; after n equal kicks the distance is a h^2 n (n+1) / 2.
      const double acceleration =
          std::max(0.0, kG * (std::sin(slope) - friction * std::cos(slope)));
      const double distance = acceleration * kStep * kStep * kSteps * (kSteps + 1) / 2.0;
      EXPECT_NEAR(play.q()[0], -distance, 1e-9) << degrees << " " << friction;
      EXPECT_NEAR(play.report().foot_forces[2], kG * std::cos(slope), 1e-9);
    }
  }
}

TEST(InclineTest, HoldsWithoutCreepJustAboveTheFrictionAngleAndSlidesJustBelow) {
  const double slope = 0.4;
  constexpr double kStep = 1e-3;
  for (const v1::Robot& robot : {PointMass(), Block()}) {
    Play above(robot, std::tan(slope) * (1.0 + 1e-3), slope, kStep);
    Play below(robot, std::tan(slope) * (1.0 - 1e-3), slope, kStep);
    above.Slide(0.0, 0.0);
    below.Slide(0.0, 0.0);
    for (int i = 0; i < 1000; ++i) {
      above.Step();
      below.Step();
      ASSERT_LT(above.v().head<3>().norm(), kMotionTolerance / kStep);
    }
    // 1 s of creep at this tolerance could add up to 1e-7 m; nothing near it may happen.
    EXPECT_LT(std::abs(above.q()[0]), 1e-9);
    const double acceleration = kG * std::sin(slope) * 1e-3;
    EXPECT_NEAR(below.q()[0], -0.5 * acceleration * 1.001, 1e-7);
  }
}

// 30 degrees, mu 0.3, 2 m/s up: turns after 0.268322655 m, is back at 1.124495663 m/s.
TEST(InclineTest, GoesUpAndComesBackSlower) {
  constexpr double kStep = 1e-4;
  Play play(Block(), 0.3, M_PI / 6.0, kStep);
  play.Slide(2.0, 0.0);
  double top = 0.0;
  do {
    play.Step();
    top = std::max(top, play.q()[0]);
  } while (play.q()[0] > 0.0);
  EXPECT_NEAR(top, 0.268322655, 2.0 * kStep);
  EXPECT_NEAR(play.v()[0], -1.124495663, kG * kStep);
}

TEST(BallTest, FallsExactlyAndStaysDown) {
  constexpr double kStep = 1e-3;
  Play play(PointMass(), 0.0, 0.0, kStep);
  VectorXd start = VectorXd::Zero(6);
  start[2] = 0.1;
  play.Start(start, VectorXd::Zero(6));
  const double impact_s = std::sqrt(2.0 * 0.1 / kG);
  ASSERT_NEAR(impact_s, 0.142784312, 1e-9);
  for (int i = 1; i <= 1000; ++i) {
    play.Step();
    const double time_s = i * kStep;
    if (time_s < impact_s) {
      ASSERT_NEAR(play.q()[2], 0.1 - 0.5 * kG * time_s * time_s, 1e-12);
      ASSERT_EQ(play.report().foot_forces[2], 0.0);
    } else {
      ASSERT_NEAR(play.q()[2], 0.0, kMotionTolerance);
      ASSERT_GT(play.report().foot_forces[2], 0.0);
    }
  }
  EXPECT_NEAR(play.report().foot_forces[2], kG, 1e-6);
}

// An oblique block slides straight on under the circular cone: with (1, 0.5) m/s and mu 0.3 it
// stops after 0.379896 s at (0.1899480, 0.0949740) m. A cone of four facets along the axes would
// stop it after 0.509684 s at (0.2123683, 0.1698947) m.
TEST(ConeTest, IsCircular) {
  constexpr double kStep = 1e-4;
  for (const v1::Robot& robot : {PointMass(), Block()}) {
    Play play(robot, 0.3, 0.0, kStep);
    play.Slide(1.0, 0.5);
    int steps = 0;
    while (play.v().head<2>().norm() > 1e-6) {
      play.Step();
      ++steps;
    }
    EXPECT_NEAR(steps * kStep, 0.379896, 2.0 * kStep);
    const double speed = std::hypot(1.0, 0.5);
    EXPECT_NEAR(play.q()[0], 0.1899480, speed * kStep);
    EXPECT_NEAR(play.q()[1], 0.0949740, speed * kStep);
    EXPECT_NEAR(play.q()[1] / play.q()[0], 0.5, 1e-9);
    EXPECT_NEAR(play.q()[5], 0.0, 1e-9);
  }
}

// Four feet leave the split of the load open; its sum and its two moments are given.
TEST(FourFeetTest, CarryTheWeightAndItsMoments) {
  v1::Robot robot = Block();
  test::SetVector(robot.mutable_body()->mutable_center_of_mass_m(), 0.009, -0.004, 0.0);
  const auto play_once = [&robot] {
    Play play(robot, 0.4, 0.0, 1e-3);
    play.Slide(0.0, 0.0);
    for (int i = 0; i < 50; ++i) {
      play.Step();
    }
    return play.report().foot_forces;
  };
  const VectorXd f = play_once();
  double sum = 0.0, about_y = 0.0, about_x = 0.0;
  for (Index i = 0; i < 4; ++i) {
    const double x = i < 2 ? 0.05 : -0.05;
    const double y = i % 2 == 0 ? 0.03 : -0.03;
    EXPECT_GE(f[3 * i + 2], 0.0);
    sum += f[3 * i + 2];
    about_y += x * f[3 * i + 2];
    about_x += y * f[3 * i + 2];
  }
  EXPECT_NEAR(sum, kG, 1e-6);
  EXPECT_NEAR(about_y, 0.009 * kG, 1e-6);
  EXPECT_NEAR(about_x, -0.004 * kG, 1e-6);
  EXPECT_EQ(f, play_once()) << "the same input gives the same split";
}

// What holds in any situation (common practice, no source).
class AnyContactTest : public ::testing::TestWithParam<int> {
 protected:
  // Throws a robot onto the surface.
  static void Throw(int seed, Play* play) {
    std::mt19937 random(static_cast<unsigned>(seed));
    std::uniform_real_distribution<double> unit(-1.0, 1.0);
    const Index n = play->model().coordinate_count();
    VectorXd q = play->model().ReferencePosture();
    VectorXd v = VectorXd::NullaryExpr(n, [&] { return unit(random); });
    q.segment<3>(3) = 0.2 * Eigen::Vector3d::NullaryExpr([&] { return unit(random); });
    q[2] = 0.0;
    double lowest = 0.0;
    FootKinematics foot;
    for (Index i = 0; i < play->model().foot_count(); ++i) {
      play->model().EvaluateFoot(q, i, false, &foot);
      lowest = std::min(lowest, foot.position[2]);
    }
    q[2] = 0.001 - lowest;
    v.head<3>() *= 0.3;
    v.segment<3>(3) *= 10.0;
    v.tail(n - 6) *= 0.1;
    play->Start(q, v);
  }
};

TEST_P(AnyContactTest, ObeysTheLawsAtEveryStep) {
  const double friction = GetParam() % 3 == 0 ? 0.0 : 0.3 * (GetParam() % 3);
  for (const v1::Robot& robot : {test::MakeQuadruped(), test::MakeHexapod(), Block(2e-3)}) {
    Play play(robot, friction, 0.1 * (GetParam() % 4), 2e-4);
    Throw(GetParam(), &play);
    const double weight = play.model().total_mass() * kG;
    for (int i = 0; i < 300; ++i) {
      const ReplayState before = play.state();
      play.Step();
      if (::testing::Test::HasFatalFailure()) {
        return;
      }
      Eigen::Vector3d force = Eigen::Vector3d::Zero();
      for (Index foot = 0; foot < play.model().foot_count(); ++foot) {
        const Eigen::Vector3d f = play.report().foot_forces.segment<3>(3 * foot);
        const Eigen::Vector3d motion = play.report().foot_motion.col(foot);
        force += f;
        ASSERT_GE(f[2], 0.0);
        ASSERT_GE(motion[2], -kMotionTolerance);
        ASSERT_LE(f.head<2>().norm(), friction * f[2] * (1.0 + 1e-6));
        if (play.report().substep_count > 1) {
          continue;  // then forces are means over substeps of which each obeys its own law
        }
        ASSERT_TRUE(f[2] == 0.0 || motion[2] <= kMotionTolerance);
        // Friction takes all the power that the cone allows, and gives none.
        ASSERT_NEAR(f.head<2>().dot(motion.head<2>()),
                    -friction * f[2] * motion.head<2>().norm(),
                    2.0 * kMotionTolerance * (weight + f[2]));
      }
      const Eigen::Vector3d gained = (play.state().knot.momentum - before.knot.momentum).head<3>();
      const Eigen::Vector3d given =
          play.h() * (play.model().total_mass() * play.model().gravity() + force);
      // The step ends when its forces balance within the tolerance.
      ASSERT_LT((gained - given).norm(),
                2.0 * play.h() * weight * StepTolerance::kDynamics + 1e-15);
    }
  }
}

TEST_P(AnyContactTest, NeverGainsEnergy) {
  // Backward contact law and midpoint rule: the energy may wobble by the order of the step, but a
  // thrown robot whose drives rest must not end with more than it began with.
  Play play(Block(2e-3), 0.4, 0.0, 2e-4);
  Throw(GetParam(), &play);
  const double start = play.model().Energy(play.q(), play.v());
  double last = start;
  for (int i = 0; i < 1000; ++i) {
    play.Step();
    const double energy = play.model().Energy(play.q() - 0.5 * play.h() * play.v(), play.v());
    ASSERT_LE(energy, last + 1e-3 * start);
    last = energy;
  }
  EXPECT_LT(last, start);
}

TEST_P(AnyContactTest, ForcesScaleWithMass) {
  // All masses and stiffnesses times 8: the same motion under 8 times the force (a power of two, so
  // that rounding scales as well; the step's tolerance is what remains).
  Play light(Block(2e-3), 0.4, 0.0, 2e-4);
  v1::Robot heavy_block = Block(16e-3);
  Play heavy(heavy_block, 0.4, 0.0, 2e-4);
  Throw(GetParam(), &light);
  Throw(GetParam(), &heavy);
  for (int i = 0; i < 100; ++i) {
    light.Step();
    heavy.Step();
    ASSERT_LT((light.q() - heavy.q()).norm(), 1e-9);
    ASSERT_LT((8.0 * light.report().foot_forces - heavy.report().foot_forces).norm(),
              1e-4 * (1.0 + heavy.report().foot_forces.norm()));
  }
}

INSTANTIATE_TEST_SUITE_P(Throws, AnyContactTest, ::testing::Range(1, 13));

}  // namespace
}  // namespace gaitshelf::solver
