#include "solver/plan/plan_gait.h"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <ctime>
#include <string>
#include <utility>
#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "solver/base/status_macros.h"
#include "solver/leg/robot_model.h"
#include "solver/plan/checkpoint.h"
#include "solver/plan/result.h"
#include "solver/plan/rounds.h"
#include "solver/plan/stage.h"
#include "solver/robot/check.h"
#include "solver/robot/digest.h"
#include "solver/robot/leg_form.h"

namespace gaitshelf::solver {
namespace {

// A plan that stalls between tolerance and this is at the limit of what the robot can do; above it,
// beyond.
constexpr double kInfeasibleViolation = 1e-3;
// Attempts after which a plateau above kInfeasibleViolation is believed.
constexpr int kAttemptsBeforeInfeasible = 2;

// A coarse stage only has to find the footfalls: the fine one starts from a wider smoothing than
// these again.
constexpr double kCoarseSmoothing = 0.01;
constexpr double kCoarseTolerance = 1e-3;

double ThreadCpuSeconds() {
  timespec now{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

// Whether the further surfaces are those of the order, and the first the slipperiest.
Violations CheckSurfaces(const PlanRequest& request) {
  Violations violations;
  if (static_cast<size_t>(request.order.also_on_size()) != request.also_on.size()) {
    AddFault(
        {"also_on",
         absl::StrCat(request.also_on.size(), " surfaces"),
         absl::StrCat("must be those of the order, which names ", request.order.also_on_size()),
         "give the description of each surface that the order names"},
        &violations);
  }
  for (const v1::Surface& surface : request.also_on) {
    const Violations more = CheckSurface(surface);
    violations.insert(violations.end(), more.begin(), more.end());
    if (surface.friction_coefficient() < request.surface.friction_coefficient()) {
      AddFault({"surface",
                request.surface.name(),
                absl::StrCat("must have the least friction of all: ", surface.name(), " has less"),
                "put the slipperiest surface first"},
               &violations);
    }
  }
  return violations;
}

Violations CheckJoined(const PlanRequest& request) {
  if (!request.order.task().has_transition()) {
    return {};
  }
  return CheckTransition(request.order,
                         RobotDigest(request.robot),
                         SurfaceDigest(request.surface),
                         request.joined.value_or(TransitionGaits()));
}

absl::Status CheckRequest(const PlanRequest& request) {
  Violations violations = CheckSurfaces(request);
  const Violations of_robot = CheckRobot(request.robot);
  violations.insert(violations.end(), of_robot.begin(), of_robot.end());
  for (Violations more : {CheckSurface(request.surface),
                          CheckOrder(request.order),
                          CheckOrderFor(request.order, request.robot),
                          CheckOrderOn(request.order, request.surface, request.also_on),
                          CheckJoined(request)}) {
    violations.insert(violations.end(), more.begin(), more.end());
  }
  return ToStatus(violations);
}

// One solve from its first attempt to its gait: what has been done, and what the caller hears of
// it.
class Planner {
 public:
  // `transition` is what a transition joins, null for all else.
  Planner(const PlanRequest& request,
          const PlanControl& control,
          const RobotModel& model,
          const TransitionSeed* transition)
      : request_(request),
        control_(control),
        model_(model),
        transition_(transition),
        started_(std::chrono::steady_clock::now()),
        cpu_at_start_(ThreadCpuSeconds()) {}

  absl::StatusOr<v1::Gait> Run();

 private:
  // Runs the stages of one attempt; leaves the last stage's problem and unknowns in best_ when they
  // are the best yet.
  absl::StatusOr<bool> RunAttempt(const Attempt& attempt);
  absl::Status RunStage(const Attempt& attempt, int stage_index, Stage* stage, RoundState* state);
  void Keep(const Attempt& attempt, const Stage& stage, const RoundState& state);
  void Restore(int stage_index, Stage* stage, PenaltyState* penalty, RoundState* state);
  void ReportProgress(const PlanProblem& problem,
                      const RoundSchedule& schedule,
                      const PenaltyState& penalty,
                      int stage_index,
                      const RoundState& state);
  v1::Gait MakeGait() const;
  void NameSurfaces(v1::Gait* gait) const;
  // Of the surfaces whose laws the plan must obey beside those of its own; 0 when there are none.
  double GreatestFriction() const;
  double SolveSeconds() const { return earlier_cpu_s_ + ThreadCpuSeconds() - cpu_at_start_; }

  struct Best {
    PlanProblem problem;
    PlanUnknowns unknowns;
    RoundState state;
    int rung = 0;
    bool is_set = false;
  };

  const PlanRequest& request_;
  const PlanControl& control_;
  const RobotModel& model_;
  const TransitionSeed* transition_;
  std::chrono::steady_clock::time_point started_;
  double cpu_at_start_;
  double earlier_cpu_s_ = 0.0;
  int iterations_before_stage_ = 0;
  int rounds_before_stage_ = 0;
  double done_ratio_ = 0.0;
  bool has_restored_ = false;
  Best best_;
};

absl::StatusOr<v1::Gait> Planner::Run() {
  std::vector<Attempt> ladder = AttemptLadder();
  for (Attempt& attempt : ladder) {
    attempt.reach_ratio = request_.reach_ratio;
    attempt.steady_duty = request_.steady_duty;
    attempt.greatest_friction = GreatestFriction();
  }
  if (request_.most_attempts > 0 && static_cast<size_t>(request_.most_attempts) < ladder.size()) {
    ladder.resize(static_cast<size_t>(request_.most_attempts));
  }
  int first_rung = 0;
  if (request_.checkpoint.has_value()) {
    earlier_cpu_s_ = request_.checkpoint->solve_s();
    first_rung =
        std::clamp(request_.checkpoint->retry_rung(), 0, static_cast<int>(ladder.size()) - 1);
  }
  for (size_t rung = static_cast<size_t>(first_rung); rung < ladder.size(); ++rung) {
    GAITSHELF_ASSIGN_OR_RETURN(const bool is_converged, RunAttempt(ladder[rung]));
    if (is_converged) {
      break;
    }
    const bool is_hopeless = best_.state.violation.Worst() > kInfeasibleViolation;
    if (is_hopeless && static_cast<int>(rung) + 1 >= kAttemptsBeforeInfeasible) {
      break;
    }
  }
  return MakeGait();
}

absl::StatusOr<bool> Planner::RunAttempt(const Attempt& attempt) {
  const std::vector<int> knots = transition_ != nullptr
                                     ? std::vector<int>{transition_->grid.knot_count}
                                     : StageKnots(request_.order);
  size_t first = 0;
  if (request_.checkpoint.has_value() && !has_restored_) {
    first = static_cast<size_t>(
        std::clamp(request_.checkpoint->stage(), 0, static_cast<int>(knots.size()) - 1));
  }
  Stage stage;
  for (size_t i = first; i < knots.size(); ++i) {
    Stage next = MakeStage(model_, request_.order, attempt, knots[i], i > 0, transition_);
    if (i + 1 < knots.size()) {
      next.schedule.last_smoothing = kCoarseSmoothing;
      next.schedule.tolerance = kCoarseTolerance;
    }
    if (i > first) {
      next.unknowns = Resample(stage.problem, stage.unknowns, next);
    }
    stage = std::move(next);
    RoundState state;
    GAITSHELF_RETURN_IF_ERROR(RunStage(attempt, static_cast<int>(i), &stage, &state));
    const bool is_last = i + 1 == knots.size();
    if (!state.is_converged || is_last) {
      Keep(attempt, stage, state);
      return state.is_converged;
    }
  }
  return false;
}

absl::Status Planner::RunStage(const Attempt& attempt,
                               int stage_index,
                               Stage* stage,
                               RoundState* state) {
  PenaltyState penalty;
  penalty.Reset(stage->problem);
  penalty.smoothing = stage->schedule.first_smoothing;
  penalty.penalty = stage->schedule.first_penalty;
  Restore(stage_index, stage, &penalty, state);
  RoundControl round_control;
  round_control.stop = control_.stop;
  round_control.on_iteration = [&](const RoundState& now) {
    ReportProgress(stage->problem, stage->schedule, penalty, stage_index, now);
  };
  round_control.on_round = [&](const RoundState& now, const PenaltyState& at) {
    if (control_.on_checkpoint && !now.is_converged) {
      v1::PlanCheckpoint checkpoint = MakeCheckpoint(stage->problem, stage->unknowns, at, now);
      checkpoint.set_retry_rung(attempt.rung);
      checkpoint.set_stage(stage_index);
      checkpoint.set_solve_s(SolveSeconds());
      control_.on_checkpoint(checkpoint);
    }
  };
  GAITSHELF_RETURN_IF_ERROR(SolveRounds(
      stage->problem, stage->schedule, round_control, &stage->unknowns, &penalty, state));
  iterations_before_stage_ += state->iteration_count;
  rounds_before_stage_ += state->round;
  return absl::OkStatus();
}

void Planner::Restore(int stage_index, Stage* stage, PenaltyState* penalty, RoundState* state) {
  if (!request_.checkpoint.has_value() || has_restored_) {
    return;
  }
  has_restored_ = true;
  if (stage_index == request_.checkpoint->stage() &&
      !RestoreCheckpoint(*request_.checkpoint, stage->problem, &stage->unknowns, penalty, state)) {
    penalty->Reset(stage->problem);
  }
}

void Planner::Keep(const Attempt& attempt, const Stage& stage, const RoundState& state) {
  const bool is_better = !best_.is_set || state.is_converged ||
                         state.violation.Worst() < best_.state.violation.Worst();
  if (is_better) {
    best_ = {stage.problem, stage.unknowns, state, attempt.rung, true};
  }
}

void Planner::ReportProgress(const PlanProblem& problem,
                             const RoundSchedule& schedule,
                             const PenaltyState& penalty,
                             int stage_index,
                             const RoundState& state) {
  if (!control_.on_progress) {
    return;
  }
  const double violation = std::max(state.violation.Worst(), schedule.tolerance);
  const double smoothing_done = std::log(schedule.first_smoothing / penalty.smoothing) /
                                std::log(schedule.first_smoothing / schedule.last_smoothing);
  const double violation_done = std::clamp(
      1.0 - std::log(violation / schedule.tolerance) / std::log(1.0 / schedule.tolerance),
      0.0,
      1.0);
  const double stages = static_cast<double>(StageKnots(request_.order).size());
  const double done =
      (stage_index + 0.5 * std::clamp(smoothing_done, 0.0, 1.0) + 0.5 * violation_done) / stages;
  done_ratio_ = std::max(done_ratio_, done);
  v1::PlanProgress progress;
  progress.set_phase(stage_index > 0 ? v1::PLAN_PHASE_REFINING : v1::PLAN_PHASE_PLANNING);
  progress.set_round(rounds_before_stage_ + state.round + 1);
  progress.set_iteration(iterations_before_stage_ + state.iteration_count);
  progress.set_violation_ratio(state.violation.Worst());
  progress.set_cost_ratio(state.cost);
  progress.set_knot_count(problem.knot_count);
  progress.set_done_ratio(done_ratio_);
  progress.set_elapsed_s(
      std::chrono::duration<double>(std::chrono::steady_clock::now() - started_).count());
  control_.on_progress(progress);
}

double Planner::GreatestFriction() const {
  double greatest = 0.0;
  for (const v1::Surface& surface : request_.also_on) {
    greatest = std::max(greatest, request_.may_slide ? 0.0 : surface.friction_coefficient());
  }
  return greatest;
}

void Planner::NameSurfaces(v1::Gait* gait) const {
  gait->set_surface(request_.surface.name());
  gait->set_surface_digest(SurfaceDigest(request_.surface));
  for (const v1::Surface& surface : request_.also_on) {
    v1::SurfaceVersion& version = *gait->add_also_on();
    version.set_surface(surface.name());
    version.set_digest(SurfaceDigest(surface));
  }
  // The same gait whichever of them the order names first.
  std::sort(gait->mutable_also_on()->begin(),
            gait->mutable_also_on()->end(),
            [](const v1::SurfaceVersion& a, const v1::SurfaceVersion& b) {
              return a.surface() < b.surface();
            });
}

v1::Gait Planner::MakeGait() const {
  v1::Gait gait;
  gait.set_robot(request_.robot.name());
  gait.set_robot_digest(RobotDigest(request_.robot));
  NameSurfaces(&gait);
  gait.set_stride_frequency_hz(request_.order.stride_frequency_hz());
  *gait.mutable_task() = request_.order.task();
  gait.set_objective(request_.order.objective() == v1::OBJECTIVE_UNSPECIFIED
                         ? v1::OBJECTIVE_LEAST_EFFORT
                         : request_.order.objective());
  FillTrajectory(best_.problem, best_.unknowns, request_.robot, &gait);
  v1::PlanReport& report = *gait.mutable_report();
  const double violation = best_.state.violation.Worst();
  report.set_round_count(rounds_before_stage_);
  report.set_iteration_count(iterations_before_stage_);
  report.set_cost_ratio(best_.state.cost);
  report.set_violation_ratio(violation);
  report.set_retry_rung(best_.rung);
  report.set_rng(request_.order.options().rng());
  report.set_seed_pattern(ChoosePattern(model_, request_.order));
  if (best_.state.is_converged) {
    report.set_outcome(v1::PLAN_OUTCOME_CONVERGED);
  } else {
    const bool is_infeasible = violation > kInfeasibleViolation;
    report.set_outcome(is_infeasible ? v1::PLAN_OUTCOME_INFEASIBLE : v1::PLAN_OUTCOME_AT_LIMIT);
    report.set_reason(absl::StrFormat(
        "the plan %s (largest violation %.1e, allowed %.0e): %s; ask for less per cycle, another "
        "frequency or a surface with more friction",
        is_infeasible ? "cannot meet all laws together" : "stalls just short of tolerance",
        violation,
        RoundSchedule().tolerance,
        DescribeLimits(best_.problem, best_.unknowns, request_.robot)));
  }
  gait.set_name(GaitName(gait));
  report.set_solve_s(SolveSeconds());
  return gait;
}

// Length, mass and time in which the planner's numbers are of order one.
Scale PlanScale(const v1::Robot& robot) {
  Scale scale;
  double height = robot.body().clamp_height_m();
  scale.mass_kg = robot.body().mass_kg();
  for (const v1::Leg& leg : robot.legs()) {
    const Triple& foot = RestFoot(leg);
    height = std::max(height, foot.size() == kTripleCount ? -foot[2] : 0.0);
    scale.mass_kg += LegMass(leg);
  }
  constexpr double kSmallestLength = 1e-3;
  scale.length_m = std::max(height, kSmallestLength);
  scale.time_s = std::sqrt(scale.length_m / kGravityMPerS2);
  return scale;
}

}  // namespace

absl::StatusOr<v1::Gait> PlanGait(const PlanRequest& request, const PlanControl& control) {
  GAITSHELF_RETURN_IF_ERROR(CheckRequest(request));
  GAITSHELF_ASSIGN_OR_RETURN(
      const RobotModel model,
      RobotModel::Create(
          request.robot, request.surface, PlanScale(request.robot), request.leg_tables));
  if (control.on_progress) {
    v1::PlanProgress progress;
    progress.set_phase(v1::PLAN_PHASE_SEEDING);
    control.on_progress(progress);
  }
  if (!request.order.task().has_transition()) {
    return Planner(request, control, model, nullptr).Run();
  }
  GAITSHELF_ASSIGN_OR_RETURN(const GaitCycle from, GaitCycle::Create(request.joined->from, model));
  GAITSHELF_ASSIGN_OR_RETURN(const GaitCycle to, GaitCycle::Create(request.joined->to, model));
  const TransitionSeed transition = {
      &from, &to, PlaceTransition(request.order.task().transition(), *request.joined)};
  return Planner(request, control, model, &transition).Run();
}

}  // namespace gaitshelf::solver
