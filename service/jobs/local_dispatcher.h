// Runs the queued jobs of a library on this machine: one worker process for each job, as many at a
// time as there are slots. Stops at processes: what a worker does is worker_job.h, what a job's
// states mean is service/library.
#ifndef GAITSHELF_SERVICE_JOBS_LOCAL_DISPATCHER_H_
#define GAITSHELF_SERVICE_JOBS_LOCAL_DISPATCHER_H_

#include <memory>
#include <string>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "service/jobs/dispatcher.h"
#include "service/library/library.h"
#include "service/log/event.h"

namespace gaitshelf::service {

struct LocalDispatcherOptions {
  // Program and its first arguments; "--job NAME --attempt N" is added. For gaitshelf-worker:
  // {"/path/gaitshelf-worker", "--library", "/path/library.db"}.
  std::vector<std::string> worker_command;
  int slot_count = 0;          // workers at a time; 0 means cores - 1, at least 1
  int nice_increment = 5;      // workers stand back behind the server
  double kill_after_s = 5.0;   // between SIGTERM and SIGKILL
  double lost_after_s = 30.0;  // silence after which a job of another server counts as lost
  EventLog log;                // may be absent
};

// Takes over jobs that a dead server left running, then starts the dispatching thread. Stop ends
// the workers and gives their jobs back to the queue with their checkpoints; it takes at most
// kill_after_s and a little. The library must outlive the dispatcher.
//
// Errors:
//   kNotFound          the worker program does not exist or cannot be run
//   kInvalidArgument   an option makes no sense
absl::StatusOr<std::unique_ptr<Dispatcher>> StartLocalDispatcher(Library* library,
                                                                 LocalDispatcherOptions options);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_JOBS_LOCAL_DISPATCHER_H_
