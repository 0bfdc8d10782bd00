#include "solver/plan/rounds.h"

#include <algorithm>
#include <memory>
#include <mutex>

#include <ceres/iteration_callback.h>
#include <ceres/problem.h>
#include <ceres/solver.h>
#include <glog/logging.h>

#include "solver/base/status_macros.h"
#include "solver/plan/dogleg_plane.h"
#include "solver/plan/knot_system.h"

namespace gaitshelf::solver {
namespace {

// The trust region is carried from round to round between these bounds.
constexpr double kSmallestRadius = 1e2;
constexpr double kLargestRadius = 1e8;

// Stands for the violation of a round that the next one is not to be compared with.
constexpr double kNotComparable = 1e300;

class FollowIterations final : public ceres::IterationCallback {
 public:
  FollowIterations(const RoundControl& control, PlanEvaluation* evaluation, RoundState* state)
      : control_(control), evaluation_(evaluation), state_(state) {}

  ceres::CallbackReturnType operator()(const ceres::IterationSummary& summary) override {
    if (summary.iteration > 0) {
      ++state_->iteration_count;
    }
    if (control_.stop != nullptr && control_.stop->load(std::memory_order_relaxed)) {
      return ceres::SOLVER_ABORT;
    }
    if (control_.on_iteration) {
      state_->cost = summary.cost;
      // Ceres may have tried a step and gone back: then these are the tried step's figures, good
      // enough to look at.
      state_->violation = evaluation_->Violation();
      control_.on_iteration(*state_);
    }
    return ceres::SOLVER_CONTINUE;
  }

 private:
  const RoundControl& control_;
  PlanEvaluation* evaluation_;
  RoundState* state_;
};

// Ceres and CHOLMOD report every matrix that is not positive definite; the trust region deals with
// it.
void SilenceCeres() {
  static std::once_flag once;
  std::call_once(once, [] { FLAGS_minloglevel = google::GLOG_FATAL; });
}

ceres::Solver::Options MakeOptions(const RoundSchedule& schedule) {
  ceres::Solver::Options options;
  options.minimizer_type = ceres::TRUST_REGION;
  options.max_num_iterations = schedule.iterations_per_round;
  options.function_tolerance = 1e-12;
  options.gradient_tolerance = 1e-14;
  options.parameter_tolerance = 1e-14;
  options.logging_type = ceres::SILENT;
  return options;
}

// Chooses smoothing and penalty for the next round from how the last one went.
void Tighten(const RoundSchedule& schedule,
             const PlanEvaluation& evaluation,
             PenaltyState* penalty,
             RoundState* state) {
  const double violation = state->violation.Worst();
  const bool is_stalled = penalty->penalty >= schedule.last_penalty &&
                          violation > schedule.stall_violation &&
                          violation > 0.9 * state->previous_violation;
  state->stalled_rounds = is_stalled ? state->stalled_rounds + 1 : 0;
  if (violation < schedule.multiplier_tolerance) {
    penalty->UpdateMultipliers(evaluation);
  }
  if (violation < 0.3 * penalty->smoothing && penalty->smoothing > schedule.last_smoothing) {
    penalty->smoothing =
        std::max(penalty->smoothing * schedule.smoothing_factor, schedule.last_smoothing);
    // Sharper laws may need a second round to be met at all; only then is the penalty too small.
    state->previous_violation = kNotComparable;
    return;
  }
  if (state->round <= 1 || violation > 0.3 * state->previous_violation) {
    penalty->penalty = std::min(penalty->penalty * schedule.penalty_factor, schedule.last_penalty);
  }
  state->previous_violation = violation;
}

}  // namespace

absl::Status SolveRounds(const PlanProblem& problem,
                         const RoundSchedule& schedule,
                         const RoundControl& control,
                         PlanUnknowns* unknowns,
                         PenaltyState* penalty,
                         RoundState* state) {
  SilenceCeres();
  PlanEvaluation evaluation(&problem, unknowns);
  unknowns->DeriveDriveFigures(problem);
  // Owns the rows and says what they are about; the solving is done in the dogleg's plane.
  ceres::Problem rows;
  AddPlanBlocks(&evaluation, penalty, unknowns, &rows);
  GAITSHELF_ASSIGN_OR_RETURN(KnotSystem system, KnotSystem::Create(problem, rows, unknowns));
  DoglegPlane plane(&system, schedule.damping, [&](bool with_jacobians) {
    evaluation.Update(penalty->smoothing, with_jacobians);
  });
  ceres::Solver::Options options = MakeOptions(schedule);
  FollowIterations follow(control, &evaluation, state);
  options.callbacks.push_back(&follow);
  while (state->round < schedule.max_rounds && !state->is_converged &&
         state->stalled_rounds < schedule.stall_rounds) {
    options.initial_trust_region_radius =
        std::clamp(state->radius, kSmallestRadius, kLargestRadius);
    ceres::Solver::Summary summary;
    plane.Solve(options, &summary);
    if (summary.termination_type == ceres::USER_FAILURE) {
      return absl::CancelledError("the solve was stopped");
    }
    ++state->round;
    if (!summary.iterations.empty()) {
      state->radius = summary.iterations.back().trust_region_radius;
    }
    state->cost = summary.final_cost;
    evaluation.Update(penalty->smoothing, false);
    state->violation = evaluation.Violation();
    state->is_converged = penalty->smoothing <= schedule.last_smoothing &&
                          state->violation.Worst() < schedule.tolerance;
    if (!state->is_converged) {
      Tighten(schedule, evaluation, penalty, state);
    }
    if (control.on_solved) {
      control.on_solved(summary);
    }
    if (control.on_round) {
      control.on_round(*state, *penalty);
    }
  }
  return absl::OkStatus();
}

}  // namespace gaitshelf::solver
