// Runs the queued jobs of a library on a Slurm cluster: a task of an array for each job, by the
// same worker as on one machine. The library says what is to be done and what was done; Slurm only
// starts and ends processes, and whatever it forgets or does twice is noticed or harmless:
//
// - A worker claims its job when it begins. A second copy gets nothing and exits; one that was
// given
//   up but lives on is refused by the library and exits.
// - A job is tried again as a new submission. Its worker, told to stop before the limit of time,
//   gives the job back with its checkpoint.
// - Several servers may dispatch for one library; so may a server that was started again.
#ifndef GAITSHELF_SERVICE_JOBS_SLURM_DISPATCHER_H_
#define GAITSHELF_SERVICE_JOBS_SLURM_DISPATCHER_H_

#include <memory>
#include <string>
#include <vector>

#include "absl/status/statusor.h"
#include "service/jobs/dispatcher.h"
#include "service/library/library.h"
#include "service/log/event.h"

namespace gaitshelf::service {

struct SlurmDispatcherOptions {
  std::string library;  // its address, which must hold on every node
  // Program and its first arguments, valid on every node; "--job NAME --owner TEXT" is added. For
  // gaitshelf-worker: {"/path/gaitshelf-worker", "--library", "postgresql://..."}.
  std::vector<std::string> worker_command;
  int task_limit = 0;           // tasks in Slurm at a time; 0 means 100
  std::string partition{};      // empty: the cluster's default
  int limit_min = 60;           // of one task; a longer solve goes on in the next
  std::string log_folder{};     // of what workers print, on the nodes; empty: nowhere
  double round_period_s = 1.0;  // between two looks at Slurm
  double cancel_after_s = 10;   // between a wish to cancel and Slurm's own means
  double lost_after_s = 60;     // silence after which a task that Slurm does not know is lost
  EventLog log{};               // may be absent
};

// Starts the dispatching thread. Stop leaves the tasks alone: they end their jobs without this
// server. The library must outlive the dispatcher.
//
// Errors:
//   kInvalidArgument   an option makes no sense
//   kUnavailable       Slurm's commands are not there
absl::StatusOr<std::unique_ptr<Dispatcher>> StartSlurmDispatcher(Library* library,
                                                                 SlurmDispatcherOptions options);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_JOBS_SLURM_DISPATCHER_H_
