// Steps of a system without contact by the midpoint integrator, one knot after the other, as an
// outside law or a solution by hand wants them.
#ifndef GAITSHELF_TESTS_SUPPORT_FREE_STEP_H_
#define GAITSHELF_TESTS_SUPPORT_FREE_STEP_H_

#include <Eigen/Core>
#include <Eigen/LU>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "solver/mechanism/lagrangian.h"
#include "solver/mechanism/midpoint.h"

namespace gaitshelf::test {

// Moves the state by the time h: solves
//   momentum / h + left(position, next) + force = 0
// for the next position by Newton's method and takes next momentum = h right(position, next).
//   force     further generalised force at the knot, n entries
//   interval  work space; afterwards the interval of the step with its derivatives
//
// Errors:
//   kInternal   Newton's method does not converge in 50 iterations; the state is left alone
inline absl::Status StepFreely(const solver::Lagrangian& system,
                               const Eigen::Ref<const Eigen::VectorXd>& force,
                               double h,
                               solver::KnotState* state,
                               solver::MidpointInterval* interval) {
  constexpr int kMaxIterations = 50;
  // The change of position at which the iteration ends, relative to its size: above rounding, and
  // one more quadratic step is below it.
  constexpr double kTolerance = 1e-14;
  const Eigen::VectorXd& position = state->position;
  // Start from the momentum alone: exact for a free particle without force.
  solver::LagrangianTerms& terms = interval->terms;
  system.Evaluate(
      position, Eigen::VectorXd::Zero(position.size()), solver::DerivativeOrder::kSecond, &terms);
  Eigen::VectorXd next = position + h * terms.momentum_v.partialPivLu().solve(state->momentum);
  double last_change = 0.0;
  for (int i = 0; i < kMaxIterations; ++i) {
    solver::EvaluateMidpoint(system, position, next, h, solver::DerivativeOrder::kSecond, interval);
    const Eigen::VectorXd residual = state->momentum / h + interval->left + force;
    const Eigen::VectorXd change = -interval->left_q1.partialPivLu().solve(residual);
    next += change;
    const double size = change.lpNorm<Eigen::Infinity>();
    // The second condition ends it where rounding lets it fall no further.
    const double scale = 1.0 + next.lpNorm<Eigen::Infinity>();
    if (size <= kTolerance * scale || (i > 0 && size <= 1e-11 * scale && size >= last_change)) {
      solver::EvaluateMidpoint(
          system, position, next, h, solver::DerivativeOrder::kSecond, interval);
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

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SUPPORT_FREE_STEP_H_
