// One step of the midpoint variational integrator for a system without contact: from the state at a
// knot to the state at the next one.
#ifndef GAITSHELF_SOLVER_MECHANISM_STEP_H_
#define GAITSHELF_SOLVER_MECHANISM_STEP_H_

#include <Eigen/Core>

#include "absl/status/status.h"
#include "solver/mechanism/lagrangian.h"
#include "solver/mechanism/midpoint.h"

namespace gaitshelf::solver {

// A knot's position and the discrete momentum that its last interval brings to it.
struct KnotState {
  Eigen::VectorXd position;
  Eigen::VectorXd momentum;
};

// Moves the state by the time h: solves
//   momentum / h + left(position, next) + force = 0
// for the next position by Newton's method and takes next momentum = h right(position, next).
//   force     further generalised force at the knot, n entries
//   interval  work space; afterwards the interval of the step with its derivatives
//
// Errors:
//   kInternal   Newton's method does not converge in 50 iterations; the state is left alone
absl::Status StepFreely(const Lagrangian& system,
                        const Eigen::Ref<const Eigen::VectorXd>& force,
                        double h,
                        KnotState* state,
                        MidpointInterval* interval);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MECHANISM_STEP_H_
