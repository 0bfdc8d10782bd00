// What a worker does with its one job: reads it, plans, audits, and writes progress, checkpoints
// and the result into the library. Knows nothing of processes and signals; worker_main.cc does.
#ifndef GAITSHELF_SERVICE_JOBS_WORKER_JOB_H_
#define GAITSHELF_SERVICE_JOBS_WORKER_JOB_H_

#include <atomic>
#include <functional>
#include <string>

#include "gaitshelf/v1/audit.pb.h"
#include "gaitshelf/v1/gait.pb.h"

#include "absl/status/statusor.h"
#include "service/library/library.h"
#include "solver/plan/plan_gait.h"
#include "solver/replay/audit_gait.h"
#include "solver/replay/hand_tuned.h"
#include "solver/replay/spread.h"

namespace gaitshelf::service {

// The solver as the job sees it.
struct JobSolver {
  std::function<absl::StatusOr<v1::Gait>(const solver::PlanRequest&, const solver::PlanControl&)>
      plan;
  std::function<absl::StatusOr<v1::Audit>(const solver::AuditRequest&)> audit;
  // What is added to the audit of a good gait; either may be absent.
  std::function<absl::StatusOr<v1::Spread>(const solver::SpreadRequest&)> spread{};
  std::function<absl::StatusOr<v1::HandTuned>(const solver::HandTunedRequest&)> hand_tuned{};
};

struct RunJobOptions {
  const std::atomic<bool>* stop = nullptr;  // the process must end; may be absent
  std::string program_version{};
  std::string host{};
  double progress_period_s = 0.1;   // least time between two writes of progress
  double poll_period_s = 0.05;      // between two looks at stop flag and cancel wish
  double heartbeat_period_s = 1.0;  // longest silence
  double storage_patience_s = 60;   // how long a full or busy storage is tried again at the end
};

enum class JobRunEnd {
  kEnded,       // done, failed or cancelled, and the library knows
  kStopped,     // the stop flag was raised; the job is still running as far as the library knows
  kSuperseded,  // another attempt has the job
};

// Runs the attempt to its end. An answer that is not a good gait is an end, too. The gait is kept
// in either case.
//
// Errors:
//   kNotFound   no such job
//   others      the library could not take the result
absl::StatusOr<JobRunEnd> RunJob(Library* library,
                                 const JobFence& fence,
                                 const JobSolver& job_solver,
                                 const RunJobOptions& options);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_JOBS_WORKER_JOB_H_
