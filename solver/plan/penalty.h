// The state of the augmented Lagrangian: smoothing, penalty and multipliers.
#ifndef GAITSHELF_SOLVER_PLAN_PENALTY_H_
#define GAITSHELF_SOLVER_PLAN_PENALTY_H_

#include <Eigen/Core>

#include "solver/plan/evaluation.h"
#include "solver/plan/problem.h"

namespace gaitshelf::solver {

// Where the augmented Lagrangian stands. A constraint row c enters as sqrt(penalty) (c + multiplier
// / penalty).
struct PenaltyState {
  double smoothing = 0.1;
  double penalty = 1.0;
  Eigen::MatrixXd dynamics_multiplier;  // n x N
  Eigen::MatrixXd contact_multiplier;   // 4 feet x N
  Eigen::MatrixXd
      drive_multiplier;  // drives x N; positive at the upper limit, negative at the lower
  Eigen::MatrixXd travel_multiplier;  // drives x N; the same

  // All multipliers zero.
  void Reset(const PlanProblem& problem);
  // Moves each multiplier by penalty times its row; to be called only when violations are small.
  void UpdateMultipliers(const PlanEvaluation& evaluation);
};

// Violation of a two-sided limit with its multiplier taken in: what the squared row holds.
double LimitRow(double value, double lower, double upper, double shift);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_PLAN_PENALTY_H_
