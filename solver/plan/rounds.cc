#include "solver/plan/rounds.h"

#include <algorithm>
#include <memory>
#include <mutex>

#include <ceres/evaluation_callback.h>
#include <ceres/iteration_callback.h>
#include <ceres/ordered_groups.h>
#include <ceres/problem.h>
#include <ceres/solver.h>
#include <glog/logging.h>

namespace gaitshelf::solver {
namespace {

// The trust region is carried from round to round between these bounds.
constexpr double kSmallestRadius = 1e2;
constexpr double kLargestRadius = 1e8;

// Stands for the violation of a round that the next one is not to be compared with.
constexpr double kNotComparable = 1e300;

class UpdateEvaluation final : public ceres::EvaluationCallback {
 public:
  UpdateEvaluation(PlanEvaluation* evaluation, const PenaltyState* penalty)
      : evaluation_(evaluation), penalty_(penalty) {}

  void PrepareForEvaluation(bool evaluate_jacobians, bool new_evaluation_point) override {
    if (new_evaluation_point || (evaluate_jacobians && !has_jacobians_)) {
      evaluation_->Update(penalty_->smoothing, evaluate_jacobians);
      has_jacobians_ = evaluate_jacobians;
    }
  }

 private:
  PlanEvaluation* evaluation_;
  const PenaltyState* penalty_;
  bool has_jacobians_ = false;
};

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

ceres::Solver::Options MakeOptions(const RoundSchedule& schedule,
                                   const PlanProblem& problem,
                                   PlanUnknowns* unknowns) {
  ceres::Solver::Options options;
  options.minimizer_type = ceres::TRUST_REGION;
  // Levenberg-Marquardt damping scaled by the stiff constraint rows freezes the soft directions;
  // the dogleg does not.
  options.trust_region_strategy_type = ceres::DOGLEG;
  options.linear_solver_type = ceres::SPARSE_SCHUR;
  options.sparse_linear_algebra_library_type = ceres::SUITE_SPARSE;
  options.max_num_iterations = schedule.iterations_per_round;
  options.function_tolerance = 1e-12;
  options.gradient_tolerance = 1e-14;
  options.parameter_tolerance = 1e-14;
  options.num_threads = 1;
  options.logging_type = ceres::SILENT;
  options.linear_solver_ordering = std::make_shared<ceres::ParameterBlockOrdering>();
  for (int k = 0; k < problem.knot_count; ++k) {
    if (k >= problem.first_free_knot() && k < problem.end_free_knot()) {
      options.linear_solver_ordering->AddElementToGroup(unknowns->controls.col(k).data(), 0);
    }
    options.linear_solver_ordering->AddElementToGroup(unknowns->coordinates.col(k).data(), 1);
  }
  if (problem.is_periodic) {
    options.linear_solver_ordering->AddElementToGroup(&unknowns->stride, 1);
  }
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
  UpdateEvaluation update(&evaluation, penalty);
  ceres::Problem::Options problem_options;
  problem_options.evaluation_callback = &update;
  ceres::Problem ceres_problem(problem_options);
  AddPlanBlocks(&evaluation, penalty, unknowns, &ceres_problem);
  ceres::Solver::Options options = MakeOptions(schedule, problem, unknowns);
  FollowIterations follow(control, &evaluation, state);
  options.callbacks.push_back(&follow);
  while (state->round < schedule.max_rounds && !state->is_converged &&
         state->stalled_rounds < schedule.stall_rounds) {
    options.initial_trust_region_radius =
        std::clamp(state->radius, kSmallestRadius, kLargestRadius);
    ceres::Solver::Summary summary;
    ceres::Solve(options, &ceres_problem, &summary);
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
    if (control.on_round) {
      control.on_round(*state, *penalty);
    }
  }
  return absl::OkStatus();
}

}  // namespace gaitshelf::solver
