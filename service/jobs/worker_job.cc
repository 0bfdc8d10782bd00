#include "service/jobs/worker_job.h"

#include <algorithm>
#include <chrono>
#include <exception>
#include <mutex>
#include <new>
#include <optional>
#include <string>
#include <thread>
#include <utility>
#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "absl/time/clock.h"
#include "absl/time/time.h"
#include "service/jobs/worker_reporter.h"
#include "service/library/stored_gait.h"
#include "solver/base/status_macros.h"
#include "solver/leg/compile_leg.h"
#include "solver/replay/audited_plan.h"
#include "solver/replay/nearest_task.h"
#include "solver/replay/simulate.h"

namespace gaitshelf::service {
namespace {

using Clock = std::chrono::steady_clock;
using Seconds = std::chrono::duration<double>;

// Share of a job's work that is planning; the rest is audit, spread and hand-tuned rival.
constexpr double kPlanShare = 0.5;
// Replays of a spread: the 5th percentile then lies between the two shortest strides.
constexpr int kSpreadReplays = 16;
// Replays of a hand-tuned search that finds something at once; for progress only.
constexpr int kUsualRivalReplays = 8;
// The machines that a worker runs on have two cores at least, and planning uses one.
constexpr int kReplayThreads = 2;

// Turns what a library may throw into a status.
template <typename Result, typename Call>
absl::StatusOr<Result> Guarded(const Call& call) {
  try {
    return call();
  } catch (const std::bad_alloc&) {
    return absl::ResourceExhaustedError(
        "the solve needs more memory than the worker may use; ask for fewer knots or raise the "
        "worker's limit");
  } catch (const std::exception& error) {
    return absl::InternalError(absl::StrCat("the solver failed: ", error.what()));
  }
}

// Everything that one run hands from step to step.
struct Run {
  Library* library = nullptr;
  const JobFence& fence;
  const JobSolver& job_solver;
  const RunJobOptions& options;
  WorkerReporter* reporter = nullptr;
  Clock::time_point start;
};

absl::StatusOr<v1::Gait> Plan(const Run& run, solver::PlanRequest request, int variant) {
  // What the variants before this one have reached; progress never falls.
  const v1::PlanProgress before = run.reporter->progress();
  const double elapsed_s = Seconds(Clock::now() - run.start).count();
  const solver::PlanControl control{
      .stop = run.reporter->stop(),
      .on_progress =
          [&run, &before, elapsed_s](v1::PlanProgress progress) {
            progress.set_done_ratio(
                std::max(before.done_ratio(), kPlanShare * progress.done_ratio()));
            progress.set_elapsed_s(elapsed_s + progress.elapsed_s());
            run.reporter->ReportProgress(progress);
          },
      .on_checkpoint =
          [&run, variant](v1::PlanCheckpoint checkpoint) {
            checkpoint.set_variant(variant);
            run.reporter->ReportCheckpoint(checkpoint);
          }};
  const auto plan = [&] { return run.job_solver.plan(request, control); };
  absl::StatusOr<v1::Gait> gait = Guarded<v1::Gait>(plan);
  if (absl::IsInvalidArgument(gait.status()) && request.checkpoint.has_value()) {
    // Perhaps the checkpoint is of another program version: start anew.
    request.checkpoint.reset();
    gait = Guarded<v1::Gait>(plan);
  }
  return gait;
}

absl::StatusOr<v1::Audit> Audit(const Run& run, solver::AuditRequest request) {
  v1::PlanProgress progress = run.reporter->progress();
  progress.set_phase(v1::PLAN_PHASE_AUDITING);
  progress.set_elapsed_s(Seconds(Clock::now() - run.start).count());
  run.reporter->ReportProgress(progress);
  request.stop = run.reporter->stop();
  return Guarded<v1::Audit>([&] { return run.job_solver.audit(request); });
}

// Counts replays into the progress of the audit. Called from several threads.
class ReplayProgress {
 public:
  ReplayProgress(const Run& run, int replay_count)
      : run_(run), replay_count_(replay_count), progress_(run.reporter->progress()) {}

  void CountOne() {
    const std::lock_guard<std::mutex> lock(mutex_);
    done_ = std::min(done_ + 1, replay_count_);
    progress_.set_done_ratio(kPlanShare + (1.0 - kPlanShare) * done_ / replay_count_);
    progress_.set_elapsed_s(Seconds(Clock::now() - run_.start).count());
    run_.reporter->ReportProgress(progress_);
  }

 private:
  const Run& run_;
  const int replay_count_;
  std::mutex mutex_;
  int done_ = 0;
  v1::PlanProgress progress_;
};

// Hand tuning is about going straight ahead.
bool HasRival(const v1::GaitOrder& order) {
  const v1::Advance& advance = order.task().advance();
  return order.task().has_advance() && advance.sidestep_m() == 0.0 && advance.turn_rad() == 0.0;
}

// Adds spread and hand-tuned rival to the audit of a good gait, for several surfaces on the one of
// least friction. A gait is as good without them: only being stopped is an error.
absl::Status AddComparisons(const Run& run, const solver::PlanRequest& planned, v1::Gait* gait) {
  const v1::GaitOrder& order = planned.order;
  ReplayProgress progress(run, kSpreadReplays + (HasRival(order) ? kUsualRivalReplays : 0));
  const auto count_one = [&progress] { progress.CountOne(); };
  if (run.job_solver.spread) {
    const solver::SpreadRequest request{
        .robot = planned.robot,
        .surface = planned.surface,
        .gait = *gait,
        .replay_count = kSpreadReplays,
        .cycle_count = solver::SteadyCycleCount(gait->stride_frequency_hz()),
        .rng = order.options().rng(),
        .thread_count = kReplayThreads,
        .stop = run.reporter->stop(),
        .on_replay = count_one};
    const auto spread = Guarded<v1::Spread>([&] { return run.job_solver.spread(request); });
    if (absl::IsCancelled(spread.status())) {
      return spread.status();
    }
    if (spread.ok()) {
      *gait->mutable_audit()->mutable_spread() = *spread;
    }
  }
  if (run.job_solver.hand_tuned && HasRival(order)) {
    v1::GaitOrder rival_order = order;
    if (order.task().advance().is_maximal()) {
      rival_order.mutable_task()->mutable_advance()->set_is_maximal(false);
      rival_order.mutable_task()->mutable_advance()->set_advance_m(gait->advance_m());
    }
    const solver::HandTunedRequest request{.robot = planned.robot,
                                           .surface = planned.surface,
                                           .order = rival_order,
                                           .leg_tables = planned.leg_tables,
                                           .thread_count = kReplayThreads,
                                           .stop = run.reporter->stop(),
                                           .on_replay = count_one};
    const auto rival = Guarded<v1::HandTuned>([&] { return run.job_solver.hand_tuned(request); });
    if (absl::IsCancelled(rival.status())) {
      return rival.status();
    }
    if (rival.ok()) {
      *gait->mutable_audit()->mutable_hand_tuned() = *rival;
    }
  }
  return absl::OkStatus();
}

void SetProvenance(const Run& run, const v1::Job& job, v1::Gait* gait) {
  v1::Provenance* provenance = gait->mutable_provenance();
  const std::int64_t now_ns = absl::GetCurrentTimeNanos();
  provenance->mutable_create_time()->set_seconds(now_ns / 1'000'000'000);
  provenance->mutable_create_time()->set_nanos(static_cast<int>(now_ns % 1'000'000'000));
  provenance->set_requester(job.requester());
  provenance->set_program_version(run.options.program_version);
  provenance->set_host(run.options.host);
  provenance->set_job(job.name());
  provenance->set_attempt(job.attempt());
  provenance->set_wall_s(Seconds(Clock::now() - run.start).count());
}

// Says why a gait is not good, in the user's terms.
std::string FailureReason(const v1::Gait& gait, const absl::Status& audit_status) {
  std::string reason = gait.report().reason();
  const std::string audit_reason =
      gait.has_audit() ? absl::StrJoin(gait.audit().reasons(), " ")
                       : absl::StrCat("the audit could not be run: ", audit_status.message());
  absl::StrAppend(&reason, reason.empty() || audit_reason.empty() ? "" : "; ", audit_reason);
  return reason.empty() ? "the plan failed its audit, which gave no reason" : reason;
}

// Tries again while the storage is busy or full, so that a solve is not lost for that.
template <typename Call>
absl::Status Persist(const Run& run, const Call& call) {
  const Clock::time_point give_up_time =
      Clock::now() +
      std::chrono::duration_cast<Clock::duration>(Seconds(run.options.storage_patience_s));
  for (;;) {
    const absl::Status status = call();
    const bool may_pass = absl::IsUnavailable(status) || absl::IsResourceExhausted(status);
    const bool must_stop = run.options.stop != nullptr && *run.options.stop;
    if (!may_pass || must_stop || Clock::now() >= give_up_time) {
      return status;
    }
    std::this_thread::sleep_for(Seconds(std::max(run.options.poll_period_s, 0.01)));
  }
}

absl::StatusOr<JobRunEnd> End(const Run& run, const JobEnd& end) {
  run.reporter->Finish();
  const absl::Status status =
      Persist(run, [&] { return run.library->FinishJob(run.fence, end).status(); });
  if (absl::IsAborted(status)) {
    return JobRunEnd::kSuperseded;
  }
  GAITSHELF_RETURN_IF_ERROR(status);
  return JobRunEnd::kEnded;
}

// Ends after a step that gave no result.
absl::StatusOr<JobRunEnd> EndWithout(const Run& run, const absl::Status& status) {
  // A solver that stops although nobody asked would come back to the queue for ever.
  if (!absl::IsCancelled(status) || !*run.reporter->stop()) {
    return End(run,
               JobEnd{.state = v1::JOB_STATE_FAILED,
                      .failure_reason = status.message().empty() ? status.ToString()
                                                                 : std::string(status.message())});
  }
  run.reporter->Finish();
  if (run.reporter->is_superseded()) {
    return JobRunEnd::kSuperseded;
  }
  if (run.reporter->is_cancelled()) {
    return End(run, JobEnd{.state = v1::JOB_STATE_CANCELLED});
  }
  return JobRunEnd::kStopped;
}

// Returns what the robot's legs are compiled to: from the library, or else for it.
absl::StatusOr<v1::LegTables> FetchLegTables(Library* library, const v1::StoredRobot& robot) {
  absl::StatusOr<v1::LegTables> kept = library->GetLegTables(robot.digest());
  if (kept.ok() && solver::TablesFit(*kept, robot.robot())) {
    return kept;
  }
  if (!kept.ok() && !absl::IsNotFound(kept.status()) && !absl::IsDataLoss(kept.status())) {
    return kept;
  }
  GAITSHELF_ASSIGN_OR_RETURN(v1::LegTables made, solver::CompileLegs(robot.robot()));
  GAITSHELF_RETURN_IF_ERROR(library->PutLegTables(robot.digest(), made));
  return made;
}

// What a job is about, in the versions that it was ordered for.
struct Inputs {
  v1::Robot robot;
  v1::Surface surface;
  std::vector<v1::Surface> also_on;
  v1::LegTables leg_tables;
  std::optional<solver::TransitionGaits> joined;
};

absl::StatusOr<Inputs> FetchInputs(Library* library, const JobAttempt& attempt) {
  const v1::GaitOrder& order = attempt.job.order();
  Inputs inputs;
  GAITSHELF_ASSIGN_OR_RETURN(const v1::StoredRobot robot,
                             library->GetRobot(order.robot(), attempt.robot_digest));
  inputs.robot = robot.robot();
  GAITSHELF_ASSIGN_OR_RETURN(const v1::StoredSurface surface,
                             library->GetSurface(order.surface(), attempt.surface_digest));
  inputs.surface = surface.surface();
  for (const v1::SurfaceVersion& version : attempt.also_on) {
    GAITSHELF_ASSIGN_OR_RETURN(const v1::StoredSurface further,
                               library->GetSurface(version.surface(), version.digest()));
    inputs.also_on.push_back(further.surface());
  }
  GAITSHELF_ASSIGN_OR_RETURN(inputs.leg_tables, FetchLegTables(library, robot));
  if (order.task().has_transition()) {
    const v1::Transition& transition = order.task().transition();
    inputs.joined.emplace();
    GAITSHELF_ASSIGN_OR_RETURN(inputs.joined->from, LoadGait(library, transition.from_gait()));
    GAITSHELF_ASSIGN_OR_RETURN(inputs.joined->to, LoadGait(library, transition.to_gait()));
  }
  return inputs;
}

absl::StatusOr<JobRunEnd> Solve(const Run& run, const JobAttempt& attempt) {
  const v1::GaitOrder& order = attempt.job.order();
  const absl::StatusOr<Inputs> inputs = FetchInputs(run.library, attempt);
  if (absl::IsNotFound(inputs.status()) || absl::IsInvalidArgument(inputs.status()) ||
      absl::IsFailedPrecondition(inputs.status())) {
    return EndWithout(run, inputs.status());
  }
  GAITSHELF_RETURN_IF_ERROR(inputs.status());

  absl::Status audit_status;
  const solver::AuditedPlanSteps steps{
      .plan = [&run](const solver::PlanRequest& request,
                     int variant) { return Plan(run, request, variant); },
      .audit =
          [&run, &audit_status](const solver::AuditRequest& request) {
            absl::StatusOr<v1::Audit> audit = Audit(run, request);
            audit_status = audit.status();
            return audit;
          }};
  solver::PlanRequest request{.robot = inputs->robot,
                              .surface = inputs->surface,
                              .order = order,
                              .checkpoint = attempt.checkpoint,
                              .leg_tables = &inputs->leg_tables,
                              .also_on = inputs->also_on,
                              .joined = inputs->joined};
  absl::StatusOr<v1::Gait> gait = solver::PlanAudited(request, steps);
  if (!gait.ok()) {
    return EndWithout(run, gait.status());
  }
  const absl::Status order_audit_status = audit_status;
  request.checkpoint.reset();
  if (const absl::Status status = solver::FindNearestTask(request, steps, &*gait); !status.ok()) {
    return EndWithout(run, status);
  }
  // A transition by itself, without its gaits, has no stride to be spread or rivalled.
  if (gait->audit().verdict() == v1::VERDICT_GOOD && !order.task().has_transition()) {
    const absl::Status status = AddComparisons(run, request, &*gait);
    if (!status.ok()) {
      return EndWithout(run, status);
    }
  }
  SetProvenance(run, attempt.job, &*gait);
  GAITSHELF_RETURN_IF_ERROR(
      Persist(run, [&] { return run.library->InsertGait(*gait, attempt.key); }));
  if (gait->audit().verdict() == v1::VERDICT_GOOD) {
    return End(run, JobEnd{.state = v1::JOB_STATE_DONE, .gait = gait->name()});
  }
  return End(run,
             JobEnd{.state = v1::JOB_STATE_FAILED,
                    .failure_reason = FailureReason(*gait, order_audit_status),
                    .gait = gait->name()});
}

}  // namespace

absl::StatusOr<JobRunEnd> RunJob(Library* library,
                                 const JobFence& fence,
                                 const JobSolver& job_solver,
                                 const RunJobOptions& options) {
  const Clock::time_point start = Clock::now();
  const absl::StatusOr<JobAttempt> attempt = library->GetAttempt(fence);
  if (absl::IsAborted(attempt.status())) {
    return JobRunEnd::kSuperseded;
  }
  GAITSHELF_RETURN_IF_ERROR(attempt.status());
  WorkerReporter reporter(library, fence, options);
  return Solve(Run{.library = library,
                   .fence = fence,
                   .job_solver = job_solver,
                   .options = options,
                   .reporter = &reporter,
                   .start = start},
               *attempt);
}

}  // namespace gaitshelf::service
