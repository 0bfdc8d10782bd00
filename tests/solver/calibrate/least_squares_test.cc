#include "solver/calibrate/least_squares.h"

#include <cmath>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::VectorXd;
using test::HasStatus;
using test::IsOk;

// A straight line through forces at 11 points within 100 um, each with 0.5 mN of noise.
LeastSquaresProblem Line(double stiffness, double offset) {
  LeastSquaresProblem problem;
  problem.residual_count = 11;
  problem.start = VectorXd::Zero(2);
  problem.residuals = [=](const VectorXd& unknowns, VectorXd* residuals) {
    residuals->resize(11);
    for (Index i = 0; i < 11; ++i) {
      const double x = 1e-4 * (static_cast<double>(i) / 5.0 - 1.0);
      const double force = stiffness * x + offset;
      // In units of 1000 N/m and of 1 mN, so that unknowns are of order one.
      (*residuals)[i] = (force - 1000.0 * unknowns[0] * x - 1e-3 * unknowns[1]) / 5e-4;
    }
    return true;
  };
  return problem;
}

// u(k) = sigma / sqrt(Sxx) = 2.38366 N/m at these points (own derivation, confirmed there by a
// Monte Carlo of 2.372 apart from this program).
TEST(LeastSquaresTest, StandardUncertaintyOfAStiffnessIsThatOfTheLine) {
  const auto fit = FitLeastSquares(Line(855.0, 0.001));
  ASSERT_THAT(fit, IsOk());
  EXPECT_NEAR(1000.0 * fit->estimate[0], 855.0, 1e-5);
  EXPECT_NEAR(fit->estimate[1], 1.0, 1e-6);
  EXPECT_NEAR(1000.0 * std::sqrt(fit->covariance(0, 0)), 2.3836564731, 1e-6);
  EXPECT_NEAR(1e-3 * std::sqrt(fit->covariance(1, 1)), 1.5075567229e-4, 1e-10);
  EXPECT_NEAR(fit->covariance(0, 1), 0.0, 1e-9);
  EXPECT_TRUE(fit->is_converged);
}

TEST(LeastSquaresTest, FindsUnknownsOfACurve) {
  LeastSquaresProblem problem;
  problem.residual_count = 20;
  problem.start = VectorXd::Zero(2);
  problem.residuals = [](const VectorXd& unknowns, VectorXd* residuals) {
    residuals->resize(20);
    for (Index i = 0; i < 20; ++i) {
      const double t = 0.1 * static_cast<double>(i);
      const double truth = std::exp(0.3) * std::exp(-std::exp(-0.4) * t);
      (*residuals)[i] = truth - std::exp(unknowns[0]) * std::exp(-std::exp(unknowns[1]) * t);
    }
    return true;
  };
  const auto fit = FitLeastSquares(problem);
  ASSERT_THAT(fit, IsOk());
  EXPECT_NEAR(fit->estimate[0], 0.3, 1e-6);
  EXPECT_NEAR(fit->estimate[1], -0.4, 1e-6);
}

TEST(LeastSquaresTest, RefusesWhatCannotBeTold) {
  LeastSquaresProblem problem = Line(1.0, 0.0);
  problem.start.resize(0);
  EXPECT_THAT(FitLeastSquares(problem),
              HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("0 unknowns")));
  problem = Line(1.0, 0.0);
  problem.residuals = [](const VectorXd&, VectorXd*) { return false; };
  EXPECT_THAT(FitLeastSquares(problem),
              HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("at the start")));
  problem.residuals = [](const VectorXd&, VectorXd* residuals) {
    residuals->setConstant(11, std::nan(""));
    return true;
  };
  EXPECT_THAT(FitLeastSquares(problem),
              HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("at the start")));
}

TEST(LeastSquaresTest, StopsWhenItIsTold) {
  std::atomic<bool> stop = false;
  LeastSquaresProblem problem = Line(1.0, 0.0);
  problem.stop = &stop;
  const auto residuals = problem.residuals;
  int count = 0;
  problem.residuals = [&](const VectorXd& unknowns, VectorXd* out) {
    stop = ++count >= 3;
    return residuals(unknowns, out);
  };
  EXPECT_THAT(FitLeastSquares(problem),
              HasStatus(absl::StatusCode::kCancelled, testing::HasSubstr("stopped")));
  EXPECT_LE(count, 4);
}

}  // namespace
}  // namespace gaitshelf::solver
