// The forces of all feet in one step: block Gauss-Seidel over the feet on the mobility of the step,
// with Newton steps of all feet together where the sweeps are slow.
#ifndef GAITSHELF_SOLVER_REPLAY_FOOT_FORCES_H_
#define GAITSHELF_SOLVER_REPLAY_FOOT_FORCES_H_

#include <vector>

#include <Eigen/Core>

#include "solver/replay/foot_law.h"

namespace gaitshelf::solver {

// motion = free + mobility * forces, three rows a foot: slip x, slip y, gap.
struct FeetProblem {
  Eigen::MatrixXd mobility;
  Eigen::VectorXd free;
  double friction = 0.0;
};

struct FeetReport {
  int sweep_count = 0;
  double residual = 0.0;  // worst FootResidual, in the units of motion
  std::vector<FootState> states;
};

// Improves `forces` (the start) until every foot obeys its law within the tolerance, or within 100
// times of it where the tolerance is out of reach of a few rounds. The residual is reported.
//
// Feet that over-constrain a stance leave the split of forces open; the sweep then converges to one
// of the splits, the one that the start leads to, and the motion is the same for all of them. The
// only regularisation is relative 1e-12 of each foot's own mobility.
FeetReport SolveFeet(const FeetProblem& problem, double tolerance, Eigen::VectorXd* forces);

// Returns the worst FootResidual of given forces and motions; free motion is not looked at.
double WorstFootResidual(const FeetProblem& problem,
                         const Eigen::VectorXd& forces,
                         const Eigen::VectorXd& motion);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_FOOT_FORCES_H_
