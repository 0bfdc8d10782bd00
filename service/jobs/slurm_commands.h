// What is said to Slurm's commands, and what their answers mean. Runs nothing.
//
// Slurm's own numbers are not to be relied on: a controller that is killed may forget what it was
// given and use a number again. A task of ours is therefore known by the name of the library, which
// is its name in Slurm, together with the name of the job, which is in its comment.
#ifndef GAITSHELF_SERVICE_JOBS_SLURM_COMMANDS_H_
#define GAITSHELF_SERVICE_JOBS_SLURM_COMMANDS_H_

#include <string>
#include <vector>

#include "absl/status/statusor.h"

namespace gaitshelf::service {

// Most jobs of one array: their names must fit into a comment.
inline constexpr int kMostSlurmTasks = 50;

struct SlurmSubmission {
  std::string library_name;                 // see SlurmLibraryName
  std::vector<std::string> worker_command;  // program and first arguments
  std::vector<std::string> jobs;            // names; 1 to kMostSlurmTasks
  std::string partition{};                  // empty: the cluster's default
  int limit_min = 60;                       // of one task
  std::string log_folder{};                 // of what workers print; empty: nowhere
};

// One element of an array that Slurm knows.
struct SlurmTask {
  std::string id;     // ARRAY_INDEX, as scancel takes it
  std::string job;    // ours
  std::string state;  // Slurm's word
};

// A name for all tasks of a library, made from its address.
absl::StatusOr<std::string> SlurmLibraryName(const std::string& library);

// The command that submits an array, which reads the script of its tasks from the input.
std::vector<std::string> SubmitCommand(const SlurmSubmission& submission);
// The script: runs the worker for the job that belongs to the task's index. The worker claims the
// job itself, with the task as its owner.
std::string TaskScript(const SlurmSubmission& submission);

// The command that lists all tasks of a library, also those that ended lately, and what it prints.
//
// Errors:
//   kInternal   a line has another form
std::vector<std::string> ListCommand(const std::string& library_name);
absl::StatusOr<std::vector<SlurmTask>> ReadTasks(const std::string& output);

std::vector<std::string> CancelCommand(const std::string& task_id);

// The owner that a worker of a task has in the library.
std::string SlurmOwner(const std::string& library_name, const std::string& task_id);

// Tells whether a task with this state waits or runs.
bool IsSlurmTaskOpen(const std::string& state);
// Tells whether a task with this state has not begun.
bool IsSlurmTaskWaiting(const std::string& state);
// Tells whether a task that ended with this state counts as the worker's fault.
bool IsSlurmTaskCrash(const std::string& state);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_JOBS_SLURM_COMMANDS_H_
