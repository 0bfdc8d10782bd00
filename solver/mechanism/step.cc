#include "solver/mechanism/step.h"

#include <Eigen/LU>

#include "absl/strings/str_cat.h"

namespace gaitshelf::solver {
namespace {

constexpr int kMaxIterations = 50;
// The change of position at which the iteration ends, relative to its size: above rounding, and one
// more quadratic step is below it.
constexpr double kTolerance = 1e-14;

}  // namespace

absl::Status StepFreely(const Lagrangian& system,
                        const Eigen::Ref<const Eigen::VectorXd>& force,
                        double h,
                        KnotState* state,
                        MidpointInterval* interval) {
  const Eigen::VectorXd& position = state->position;
  // Start from the momentum alone: exact for a free particle without force.
  LagrangianTerms& terms = interval->terms;
  system.Evaluate(
      position, Eigen::VectorXd::Zero(position.size()), DerivativeOrder::kSecond, &terms);
  Eigen::VectorXd next = position + h * terms.momentum_v.partialPivLu().solve(state->momentum);
  double last_change = 0.0;
  for (int i = 0; i < kMaxIterations; ++i) {
    EvaluateMidpoint(system, position, next, h, DerivativeOrder::kSecond, interval);
    const Eigen::VectorXd residual = state->momentum / h + interval->left + force;
    const Eigen::VectorXd change = -interval->left_q1.partialPivLu().solve(residual);
    next += change;
    const double size = change.lpNorm<Eigen::Infinity>();
    // The second condition ends it where rounding lets it fall no further.
    const double scale = 1.0 + next.lpNorm<Eigen::Infinity>();
    if (size <= kTolerance * scale || (i > 0 && size <= 1e-11 * scale && size >= last_change)) {
      EvaluateMidpoint(system, position, next, h, DerivativeOrder::kSecond, interval);
      state->position = next;
      state->momentum = h * interval->right;
      return absl::OkStatus();
    }
    if (!(size < 1e100)) {
      break;
    }
    last_change = size;
  }
  return absl::InternalError(
      absl::StrCat("step of ", h, " does not converge; last change of position ", last_change));
}

}  // namespace gaitshelf::solver
