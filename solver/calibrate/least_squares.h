// Least squares of a few unknowns with their covariance, by Ceres with central differences.
#ifndef GAITSHELF_SOLVER_CALIBRATE_LEAST_SQUARES_H_
#define GAITSHELF_SOLVER_CALIBRATE_LEAST_SQUARES_H_

#include <atomic>
#include <functional>

#include <Eigen/Core>

#include "absl/status/statusor.h"

namespace gaitshelf::solver {

struct LeastSquaresProblem {
  // Writes residual_count residuals, each over its standard deviation. False where the unknowns
  // make no sense; a step that leads there is taken back.
  std::function<bool(const Eigen::VectorXd& unknowns, Eigen::VectorXd* residuals)> residuals;
  Eigen::Index residual_count = 0;
  // Unknowns of order one, such as logarithms of factors.
  Eigen::VectorXd start;
  // Half the distance of central differences.
  double difference = 1e-5;
  int iteration_limit = 50;
  const std::atomic<bool>* stop = nullptr;  // checked at every evaluation
};

struct LeastSquaresFit {
  Eigen::VectorXd estimate;
  // Of the estimate, if residuals are independent and of unit variance. Directions that no residual
  // depends on count as exactly known: give every unknown a residual of its own (a prior).
  Eigen::MatrixXd covariance;
  Eigen::VectorXd residuals;
  bool is_converged = false;  // false when the iteration limit was met
};

// Errors:
//   kInvalidArgument     no unknowns, fewer residuals than unknowns, or none at the start
//   kFailedPrecondition  the fit has no usable solution
//   kCancelled           the stop flag was raised
absl::StatusOr<LeastSquaresFit> FitLeastSquares(const LeastSquaresProblem& described);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_CALIBRATE_LEAST_SQUARES_H_
