#include "solver/calibrate/least_squares.h"

#include <cstddef>
#include <mutex>
#include <utility>
#include <vector>

#include <ceres/cost_function.h>
#include <ceres/covariance.h>
#include <ceres/problem.h>
#include <ceres/solver.h>
#include <glog/logging.h>

#include "absl/strings/str_cat.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using RowMajor = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

// Remembers the last point, because the solver, the covariance and the caller ask for the same one.
class DifferencedCost final : public ceres::CostFunction {
 public:
  explicit DifferencedCost(const LeastSquaresProblem* problem) : problem_(*problem) {
    set_num_residuals(static_cast<int>(problem_.residual_count));
    mutable_parameter_block_sizes()->push_back(static_cast<int>(problem_.start.size()));
  }

  bool Evaluate(double const* const* unknowns,
                double* residuals,
                double** jacobians) const override {
    const VectorXd at = Eigen::Map<const VectorXd>(unknowns[0], problem_.start.size());
    if (at_.size() == 0 || at != at_) {
      VectorXd value;
      if (!EvaluateAt(at, &value)) {
        return false;
      }
      at_ = at;
      value_ = std::move(value);
      jacobian_.resize(0, 0);
    }
    Eigen::Map<VectorXd>(residuals, problem_.residual_count) = value_;
    if (jacobians == nullptr || jacobians[0] == nullptr) {
      return true;
    }
    if (jacobian_.size() == 0 && !Differentiate()) {
      return false;
    }
    Eigen::Map<RowMajor>(jacobians[0], jacobian_.rows(), jacobian_.cols()) = jacobian_;
    return true;
  }

 private:
  bool EvaluateAt(const VectorXd& at, VectorXd* value) const {
    if (problem_.stop != nullptr && problem_.stop->load(std::memory_order_relaxed)) {
      return false;
    }
    return problem_.residuals(at, value) && value->size() == problem_.residual_count &&
           value->allFinite();
  }

  bool Differentiate() const {
    RowMajor jacobian(problem_.residual_count, problem_.start.size());
    VectorXd above, below;
    for (Index i = 0; i < problem_.start.size(); ++i) {
      VectorXd shifted = at_;
      shifted[i] = at_[i] + problem_.difference;
      const bool has_above = EvaluateAt(shifted, &above);
      shifted[i] = at_[i] - problem_.difference;
      const bool has_below = EvaluateAt(shifted, &below);
      if (!has_above && !has_below) {
        return false;
      }
      // At an edge of what makes sense one side has to do.
      const VectorXd& upper = has_above ? above : value_;
      const VectorXd& lower = has_below ? below : value_;
      const double distance = problem_.difference * (has_above && has_below ? 2.0 : 1.0);
      jacobian.col(i) = (upper - lower) / distance;
    }
    jacobian_ = std::move(jacobian);
    return true;
  }

  const LeastSquaresProblem& problem_;
  mutable VectorXd at_;
  mutable VectorXd value_;
  mutable RowMajor jacobian_;
};

bool IsStopped(const LeastSquaresProblem& problem) {
  return problem.stop != nullptr && problem.stop->load(std::memory_order_relaxed);
}

// Ceres reports steps that were taken back on standard error.
void SilenceCeres() {
  static std::once_flag once;
  std::call_once(once, [] { FLAGS_minloglevel = google::GLOG_FATAL; });
}

absl::Status Check(const LeastSquaresProblem& problem) {
  const Index count = problem.start.size();
  if (count == 0 || problem.residual_count < count || !problem.start.allFinite()) {
    return absl::InvalidArgumentError(
        absl::StrCat(problem.residual_count, " residuals cannot tell ", count, " unknowns"));
  }
  VectorXd residuals;
  if (!problem.residuals(problem.start, &residuals) || residuals.size() != problem.residual_count ||
      !residuals.allFinite()) {
    return absl::InvalidArgumentError("the data cannot be compared with the model at the start");
  }
  return absl::OkStatus();
}

// Returns false when Ceres cannot invert.
bool FindCovariance(ceres::Problem* problem, double* block, Index count, MatrixXd* covariance) {
  ceres::Covariance::Options options;
  options.algorithm_type = ceres::DENSE_SVD;
  options.null_space_rank = -1;
  ceres::Covariance inverse(options);
  const std::vector<std::pair<const double*, const double*>> blocks = {{block, block}};
  if (!inverse.Compute(blocks, problem)) {
    return false;
  }
  RowMajor result(count, count);
  if (!inverse.GetCovarianceBlock(block, block, result.data())) {
    return false;
  }
  *covariance = result;
  return covariance->allFinite();
}

}  // namespace

absl::StatusOr<LeastSquaresFit> FitLeastSquares(const LeastSquaresProblem& described) {
  if (IsStopped(described)) {
    return absl::CancelledError("the calibration was stopped");
  }
  if (absl::Status status = Check(described); !status.ok()) {
    return status;
  }
  SilenceCeres();
  VectorXd unknowns = described.start;
  ceres::Problem problem;
  problem.AddResidualBlock(new DifferencedCost(&described), nullptr, unknowns.data());
  ceres::Solver::Options options;
  options.linear_solver_type = ceres::DENSE_QR;
  options.max_num_iterations = described.iteration_limit;
  options.logging_type = ceres::SILENT;
  // A step that changes every unknown by less than this has arrived: far below any uncertainty that
  // data leave.
  options.parameter_tolerance = 1e-7;
  options.function_tolerance = 1e-9;
  ceres::Solver::Summary summary;
  ceres::Solve(options, &problem, &summary);
  if (IsStopped(described)) {
    return absl::CancelledError("the calibration was stopped");
  }
  LeastSquaresFit fit;
  fit.estimate = unknowns;
  fit.is_converged = summary.termination_type == ceres::CONVERGENCE;
  const bool is_usable =
      summary.IsSolutionUsable() &&
      FindCovariance(&problem, unknowns.data(), unknowns.size(), &fit.covariance) &&
      described.residuals(unknowns, &fit.residuals);
  if (!is_usable) {
    return IsStopped(described)
               ? absl::CancelledError("the calibration was stopped")
               : absl::FailedPreconditionError("the data cannot be explained by the model");
  }
  return fit;
}

}  // namespace gaitshelf::solver
