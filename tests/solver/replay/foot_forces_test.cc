#include "solver/replay/foot_forces.h"

#include <random>

#include <gtest/gtest.h>

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// Mobility of feet on one rigid body of mass 1 and moments 1: rank 6 however many feet there are.
MatrixXd RigidMobility(const std::vector<Eigen::Vector3d>& feet) {
  MatrixXd jacobian(3 * static_cast<Index>(feet.size()), 6);
  for (size_t i = 0; i < feet.size(); ++i) {
    const Eigen::Vector3d& p = feet[i];
    Eigen::Matrix3d turn;
    turn << 0.0, p[2], -p[1], -p[2], 0.0, p[0], p[1], -p[0], 0.0;
    jacobian.block<3, 3>(3 * static_cast<Index>(i), 0).setIdentity();
    jacobian.block<3, 3>(3 * static_cast<Index>(i), 3) = turn;
  }
  return jacobian * jacobian.transpose();
}

const std::vector<Eigen::Vector3d> kTable = {{1.0, 1.0, -0.5},
                                             {1.0, -1.0, -0.5},
                                             {-1.0, 1.0, -0.5},
                                             {-1.0, -1.0, -0.5}};

FeetProblem TableProblem(double friction, double pull) {
  FeetProblem problem;
  problem.mobility = RigidMobility(kTable);
  problem.friction = friction;
  problem.free.setZero(12);
  for (Index i = 0; i < 4; ++i) {
    problem.free[3 * i] = pull;
    problem.free[3 * i + 2] = -1.0;
  }
  return problem;
}

TEST(SolveFeetTest, CarriesATableOnFourFeet) {
  const FeetProblem problem = TableProblem(0.5, 0.3);
  VectorXd forces = VectorXd::Zero(12);
  const FeetReport report = SolveFeet(problem, 1e-12, &forces);
  EXPECT_LE(report.residual, 1e-12);
  double load = 0.0, pull = 0.0;
  for (Index i = 0; i < 4; ++i) {
    load += forces[3 * i + 2];
    pull += forces[3 * i];
    EXPECT_EQ(report.states[static_cast<size_t>(i)], FootState::kStick);
  }
  EXPECT_NEAR(load, 1.0, 1e-10);
  EXPECT_NEAR(pull, -0.3, 1e-10);
}

TEST(SolveFeetTest, SlidesATableThatIsPulledTooHard) {
  const FeetProblem problem = TableProblem(0.2, 0.3);
  VectorXd forces = VectorXd::Zero(12);
  const FeetReport report = SolveFeet(problem, 1e-12, &forces);
  EXPECT_LE(report.residual, 1e-10);
  double pull = 0.0;
  for (Index i = 0; i < 4; ++i) {
    pull += forces[3 * i];
  }
  EXPECT_NEAR(pull, -0.2, 1e-9);
}

TEST(SolveFeetTest, SettlesJustInsideTheCone) {
  // A thousandth of spare friction: only splits near one another hold.
  const FeetProblem problem = TableProblem(0.3003, 0.3);
  VectorXd forces = VectorXd::Zero(12);
  const FeetReport report = SolveFeet(problem, 1e-12, &forces);
  EXPECT_LE(report.residual, 1e-10);
  EXPECT_LT(report.sweep_count, 500);
  EXPECT_LT((problem.free + problem.mobility * forces).norm(), 1e-9);
}

TEST(SolveFeetTest, KeepsToTheSplitThatItStartsFrom) {
  const FeetProblem problem = TableProblem(0.5, 0.3);
  VectorXd forces = VectorXd::Zero(12);
  SolveFeet(problem, 1e-12, &forces);
  VectorXd again = forces;
  EXPECT_LE(SolveFeet(problem, 1e-12, &again).sweep_count, 20);
  EXPECT_LT((again - forces).norm(), 1e-9);
}

TEST(SolveFeetTest, NeedsNoFeet) {
  FeetProblem problem;
  VectorXd forces;
  EXPECT_EQ(SolveFeet(problem, 1e-12, &forces).residual, 0.0);
}

TEST(SolveFeetTest, ObeysTheLawForManyFeetOnOneBody) {
  std::mt19937 random(9);
  std::uniform_real_distribution<double> unit(-1.0, 1.0);
  for (int draw = 0; draw < 200; ++draw) {
    std::vector<Eigen::Vector3d> feet;
    for (int i = 0; i < 6; ++i) {
      feet.push_back({unit(random), unit(random), -0.5 + 0.1 * unit(random)});
    }
    FeetProblem problem;
    problem.mobility = RigidMobility(feet) + 1e-3 * MatrixXd::Identity(18, 18);
    problem.friction = 0.6 * std::abs(unit(random));
    problem.free = VectorXd::NullaryExpr(18, [&] { return 0.3 * unit(random); });
    VectorXd forces = VectorXd::Zero(18);
    ASSERT_LE(SolveFeet(problem, 1e-12, &forces).residual, 1e-10) << draw;
  }
}

}  // namespace
}  // namespace gaitshelf::solver
