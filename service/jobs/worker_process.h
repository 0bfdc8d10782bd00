// Starts a worker as a child process and reads how it ended.
#ifndef GAITSHELF_SERVICE_JOBS_WORKER_PROCESS_H_
#define GAITSHELF_SERVICE_JOBS_WORKER_PROCESS_H_

#include <string>
#include <vector>

#include <sys/types.h>

#include "absl/status/statusor.h"
#include "service/library/library.h"

namespace gaitshelf::service {

// Starts the command with "--job NAME --attempt N --parent PID" added. No shell is involved. The
// child has its own process group, an empty input, no other open files than output and error, and
// stands back by the nice increment.
//
// Errors:
//   kInternal   the system could not start it
absl::StatusOr<pid_t> StartWorkerProcess(const std::vector<std::string>& command,
                                         const JobFence& fence,
                                         int nice_increment);

// Says in words how a process ended, from waitpid's status.
std::string DescribeWaitStatus(int wait_status);
// Tells whether the worker says that it was stopped from outside before its end.
bool IsStoppedExit(int wait_status);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_JOBS_WORKER_PROCESS_H_
