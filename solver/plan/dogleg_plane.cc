#include "solver/plan/dogleg_plane.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include <ceres/problem.h>

namespace gaitshelf::solver {
namespace {

// Damping grows to this while the matrix cannot be factored.
constexpr double kMostDamping = 1e-2;
constexpr double kDampingFactor = 10.0;
// Shares of the Newton step's length below this count as parallel to steepest descent.
constexpr double kParallel = 1e-12;

}  // namespace

// Two rows that change in the plane and one that does not. At a point where only the cost is
// wanted, all of it is in the third.
class DoglegPlane::Residuals final : public ceres::CostFunction {
 public:
  explicit Residuals(const DoglegPlane* plane) : plane_(plane) {
    set_num_residuals(3);
    mutable_parameter_block_sizes()->push_back(2);
  }

  bool Evaluate(double const* const* /*parameters*/,
                double* residuals,
                double** jacobians) const override {
    const DoglegPlane& plane = *plane_;
    if (jacobians == nullptr || jacobians[0] == nullptr) {
      std::fill_n(residuals, 2, 0.0);
      residuals[2] = std::sqrt(2.0 * plane.cost_);
      return std::isfinite(plane.cost_);
    }
    Eigen::Map<Eigen::Vector3d> rows(residuals);
    rows << plane.residuals_, plane.rest_;
    Eigen::Map<Eigen::Matrix<double, 3, 2, Eigen::RowMajor>> slopes(jacobians[0]);
    slopes << plane.jacobian_, Eigen::RowVector2d::Zero();
    return plane.is_linearised_;
  }

 private:
  const DoglegPlane* plane_;
};

DoglegPlane::DoglegPlane(KnotSystem* system, double damping, Update update)
    : system_(system), damping_(damping), update_(std::move(update)) {}

void DoglegPlane::Solve(ceres::Solver::Options options, ceres::Solver::Summary* summary) {
  weights_.setZero();
  origin_weights_.setZero();
  has_values_ = false;
  system_->Read(&origin_);
  directions_.setZero(system_->size(), 2);
  ceres::Problem::Options problem_options;
  problem_options.evaluation_callback = this;
  ceres::Problem problem(problem_options);
  problem.AddResidualBlock(new Residuals(this), nullptr, weights_.data());
  options.trust_region_strategy_type = ceres::DOGLEG;
  options.linear_solver_type = ceres::DENSE_QR;
  // The plane's directions have length 1 in the scale of the whole problem already.
  options.jacobi_scaling = false;
  options.min_lm_diagonal = 1.0;
  options.max_lm_diagonal = 1.0;
  options.num_threads = 1;
  ceres::Solve(options, &problem, summary);
  // The last point that Ceres accepted; it may have tried others since.
  system_->Write(origin_);
}

void DoglegPlane::PrepareForEvaluation(bool evaluate_jacobians, bool /*new_evaluation_point*/) {
  // A trust region that is larger than the Newton step gives the same point again.
  const bool is_same = has_values_ && weights_ == evaluated_weights_;
  if (is_same && (has_jacobians_ || !evaluate_jacobians)) {
    return;
  }
  system_->Write(origin_ + directions_ * (weights_ - origin_weights_));
  update_(evaluate_jacobians);
  has_values_ = true;
  has_jacobians_ = evaluate_jacobians;
  evaluated_weights_ = weights_;
  if (evaluate_jacobians) {
    Linearise();
  } else {
    cost_ = system_->Cost();
  }
}

void DoglegPlane::Linearise() {
  is_linearised_ = false;
  for (double damping = damping_; damping <= kMostDamping && !is_linearised_;
       damping *= kDampingFactor) {
    is_linearised_ = system_->Linearise(damping);
  }
  if (!is_linearised_) {
    return;
  }
  cost_ = system_->cost();
  system_->Read(&origin_);
  origin_weights_ = weights_;
  // In coordinates that are divided by `inverse_scale` the trust region is a ball.
  const Eigen::VectorXd inverse_scale = system_->squared_scale().cwiseSqrt().cwiseInverse();
  Eigen::VectorXd descent = system_->gradient().cwiseProduct(inverse_scale);
  const double gradient_norm = descent.norm();
  descent /= std::max(gradient_norm, std::numeric_limits<double>::min());
  Eigen::VectorXd step;
  system_->NewtonStep(&step);
  step = step.cwiseQuotient(inverse_scale);
  const double length = step.norm();
  step -= descent * descent.dot(step);
  step -= descent * descent.dot(step);
  const double across = step.norm();
  step *= across > kParallel * length ? 1.0 / across : 0.0;
  directions_.col(0) = descent.cwiseProduct(inverse_scale);
  directions_.col(1) = step.cwiseProduct(inverse_scale);

  Eigen::VectorXd first;
  Eigen::VectorXd second;
  system_->TimesFactor(directions_, &first, &second);
  const double pivot = first.norm();
  const double mixed = first.dot(second) / pivot;
  const double other = std::sqrt(std::max(second.squaredNorm() - mixed * mixed, 0.0));
  jacobian_ << pivot, mixed, 0.0, other;
  residuals_[0] = gradient_norm / pivot;
  residuals_[1] = other > 0.0 ? -mixed * residuals_[0] / other : 0.0;
  rest_ = std::sqrt(std::max(2.0 * cost_ - residuals_.squaredNorm(), 0.0));
}

}  // namespace gaitshelf::solver
