#include "solver/replay/foot_law.h"

#include <cmath>
#include <random>

#include <Eigen/Eigenvalues>
#include <gtest/gtest.h>

namespace gaitshelf::solver {
namespace {

using Eigen::Matrix3d;
using Eigen::Vector3d;

FootProblem Simple(const Vector3d& free, double friction) {
  return {Vector3d(1.0, 2.0, 0.5).asDiagonal(), free, friction};
}

TEST(SolveFootTest, LeavesAnOpenGapAlone) {
  FootState state;
  EXPECT_EQ(SolveFoot(Simple({0.3, 0.0, 0.1}, 0.5), &state), Vector3d::Zero());
  EXPECT_EQ(state, FootState::kOpen);
}

TEST(SolveFootTest, SticksInsideTheCone) {
  FootState state;
  const Vector3d force = SolveFoot(Simple({0.1, -0.1, -1.0}, 0.5), &state);
  EXPECT_EQ(state, FootState::kStick);
  EXPECT_LT((force - Vector3d(-0.1, 0.05, 2.0)).norm(), 1e-14);
}

TEST(SolveFootTest, SlidesAgainstFrictionOutsideTheCone) {
  FootState state;
  const FootProblem problem = Simple({3.0, 0.0, -1.0}, 0.5);
  const Vector3d force = SolveFoot(problem, &state);
  EXPECT_EQ(state, FootState::kSlide);
  EXPECT_LT((force - Vector3d(-1.0, 0.0, 2.0)).norm(), 1e-13);
}

TEST(SolveFootTest, GivesNoTangentialForceWithoutFriction) {
  FootState state;
  FootProblem problem = Simple({3.0, 1.0, -1.0}, 0.0);
  problem.mobility(0, 2) = problem.mobility(2, 0) = 0.2;
  EXPECT_EQ(SolveFoot(problem, &state), Vector3d(0.0, 0.0, 2.0));
}

// Property: whatever the mobility, the force obeys the law. The coupling of normal and tangential
// motion and the friction go beyond what a walking foot meets.
TEST(SolveFootTest, ObeysTheLawForAnyMobility) {
  std::mt19937 random(5);
  std::uniform_real_distribution<double> unit(-1.0, 1.0);
  int stick = 0, slide = 0;
  for (int i = 0; i < 5000; ++i) {
    Matrix3d root = Matrix3d::NullaryExpr([&] { return unit(random); });
    FootProblem problem;
    problem.mobility = root * root.transpose() + 0.05 * Matrix3d::Identity();
    // A spinning body makes the mobility a little unsymmetric.
    problem.mobility(0, 1) += 1e-3 * unit(random);
    problem.mobility(1, 2) += 1e-3 * unit(random);
    problem.free = Vector3d::NullaryExpr([&] { return unit(random); });
    problem.friction = 1.5 * std::abs(unit(random));
    FootState state;
    const Vector3d force = SolveFoot(problem, &state);
    const Vector3d motion = problem.free + problem.mobility * force;
    stick += state == FootState::kStick ? 1 : 0;
    slide += state == FootState::kSlide ? 1 : 0;
    ASSERT_GE(force[2], 0.0);
    ASSERT_LE(force.head<2>().norm(), problem.friction * force[2] * (1.0 + 1e-14) + 1e-300);
    // 1e-11: rounding times the largest condition number drawn, about 1e3, with room.
    ASSERT_LT(FootResidual(problem, force, motion), 1e-11 * (1.0 + force.norm())) << i;
  }
  EXPECT_GT(stick, 300);
  EXPECT_GT(slide, 300);
}

// A rod whose tip drags towards its centre jams above a critical friction, 4/3 at best: (1 + 3
// cos^2 p) / (3 sin p cos p), at 45 degrees 5/3. The law must be met on both sides of it. Source:
// Champneys and Varkonyi, IMA J. Appl. Math. 81 (2016) 538-588 (abstract); formula recomputed.
TEST(SolveFootTest, MeetsTheLawBeyondTheJammingFriction) {
  const double angle = M_PI / 4.0;
  const double c = std::cos(angle), s = std::sin(angle);
  FootProblem problem;
  // Tip of a rod of mass 1 and half length 1, moment 1/3, in the plane of x and z.
  problem.mobility << 1.0 + 3.0 * s * s, 0.0, -3.0 * s * c, 0.0, 1.0, 0.0, -3.0 * s * c, 0.0,
      1.0 + 3.0 * c * c;
  for (const double friction : {1.6, 1.7, 2.5}) {
    for (const double slip : {-0.5, 0.5}) {
      problem.friction = friction;
      problem.free = Vector3d(slip, 0.0, -0.01);
      FootState state;
      const Vector3d force = SolveFoot(problem, &state);
      EXPECT_LT(FootResidual(problem, force, problem.free + problem.mobility * force), 1e-12)
          << friction << " " << slip;
    }
  }
}

TEST(FootResidualTest, SeesEachBreachOfTheLaw) {
  const FootProblem problem = Simple({0.0, 0.0, 0.0}, 0.5);
  EXPECT_EQ(FootResidual(problem, Vector3d::Zero(), {0.0, 0.0, 1.0}), 0.0);
  EXPECT_NEAR(FootResidual(problem, Vector3d::Zero(), {0.0, 0.0, -0.1}), 0.1, 1e-15);
  EXPECT_GT(FootResidual(problem, {0.0, 0.0, 2.0}, {0.0, 0.0, 0.1}), 0.05);    // force in the air
  EXPECT_GT(FootResidual(problem, {2.0, 0.0, 2.0}, {0.0, 0.0, 0.0}), 0.5);     // beyond the cone
  EXPECT_GT(FootResidual(problem, {-1.0, 0.0, 2.0}, {-0.1, 0.0, 0.0}), 0.05);  // drives the slip
  EXPECT_GT(FootResidual(problem, {0.0, 0.0, 2.0}, {0.1, 0.0, 0.0}), 0.05);    // slides for nothing
}

}  // namespace
}  // namespace gaitshelf::solver
