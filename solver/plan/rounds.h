// The augmented Lagrangian: rounds of Ceres solves with falling smoothing and growing penalty.
#ifndef GAITSHELF_SOLVER_PLAN_ROUNDS_H_
#define GAITSHELF_SOLVER_PLAN_ROUNDS_H_

#include <atomic>
#include <functional>

#include <ceres/solver.h>

#include "absl/status/statusor.h"
#include "solver/plan/blocks.h"
#include "solver/plan/evaluation.h"
#include "solver/plan/problem.h"

namespace gaitshelf::solver {

// The schedule of one solve. The defaults are the best of a sweep over the demo grid.
struct RoundSchedule {
  double first_smoothing = 0.1;
  double last_smoothing = 1e-3;
  double smoothing_factor = 0.3;
  double first_penalty = 1.0;
  double last_penalty = 1e5;
  double penalty_factor = 10.0;
  int iterations_per_round = 20;
  // Of every step, over the squared scale of its unknown. Over the demo grid 1e-10 ends with costs
  // 5 % lower and needs half as much time again, 1e-12 four times as much; 1e-6 ends 40 % higher.
  double damping = 1e-8;
  int max_rounds = 22;  // a solve that takes more seldom recovers
  double tolerance = 7e-7;
  // A violation above stall_violation that has not fallen by a tenth for stall_rounds rounds at the
  // last penalty will not fall any more: the laws contradict each other.
  double stall_violation = 1e-3;
  int stall_rounds = 3;
  // Multipliers are moved only below this: earlier they run away.
  double multiplier_tolerance = 1e-4;
};

// Where a solve stands between two rounds; all that is needed to go on, beside the unknowns and the
// multipliers.
struct RoundState {
  int round = 0;
  int iteration_count = 0;
  double radius = 1e4;
  double previous_violation = 0.0;
  double cost = 0.0;
  PlanViolation violation;
  bool is_converged = false;
  int stalled_rounds = 0;
};

struct RoundControl {
  const std::atomic<bool>* stop = nullptr;
  // Called after every iteration with the state so far.
  std::function<void(const RoundState&)> on_iteration;
  // Called after every round.
  std::function<void(const RoundState&, const PenaltyState&)> on_round;
  // Called with what Ceres says of each round, before on_round: for those who measure.
  std::function<void(const ceres::Solver::Summary&)> on_solved;
};

// Solves the problem from the unknowns as they are, in place, until converged or out of rounds; the
// state says which. A state whose round is above 0 goes on where it stood.
//
// Errors:
//   kCancelled   the stop flag was raised; unknowns and state hold the last iterate
absl::Status SolveRounds(const PlanProblem& problem,
                         const RoundSchedule& schedule,
                         const RoundControl& control,
                         PlanUnknowns* unknowns,
                         PenaltyState* penalty,
                         RoundState* state);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_PLAN_ROUNDS_H_
