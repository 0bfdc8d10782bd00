#include "service/jobs/slurm_commands.h"

#include <algorithm>
#include <array>

#include "absl/strings/escaping.h"
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "absl/strings/str_replace.h"
#include "absl/strings/str_split.h"
#include "service/library/checksum.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

// Time that a worker has to write its checkpoint. Slurm looks at limits about twice a minute, so
// that the signal comes up to half a minute early.
constexpr int kStopBeforeLimitS = 60;

// In place of a task's number: the line is of an array as a whole.
constexpr char kNoIndex[] = "N/A";

std::string Quote(const std::string& word) {
  return absl::StrCat("'", absl::StrReplaceAll(word, {{"'", "'\\''"}}), "'");
}

template <std::size_t N>
bool IsOneOf(const std::string& word, const std::array<const char*, N>& words) {
  return std::find(words.begin(), words.end(), word) != words.end();
}

}  // namespace

absl::StatusOr<std::string> SlurmLibraryName(const std::string& library) {
  GAITSHELF_ASSIGN_OR_RETURN(const std::string checksum, Sha256(library));
  return absl::StrCat("gaitshelf-", absl::BytesToHexString(checksum.substr(0, 6)));
}

std::vector<std::string> SubmitCommand(const SlurmSubmission& submission) {
  std::vector<std::string> words = {
      "sbatch",
      "--parsable",
      // A job is tried again from the library's queue; Slurm would wait for a credential to expire.
      "--no-requeue",
      "--export=PATH,HOME,PGPASSFILE",
      "--chdir=/",
      "--ntasks=1",
      "--cpus-per-task=1",
      absl::StrCat("--job-name=", submission.library_name),
      absl::StrCat("--comment=", absl::StrJoin(submission.jobs, " ")),
      absl::StrCat("--array=0-", submission.jobs.size() - 1),
      absl::StrCat("--time=", submission.limit_min),
      absl::StrCat("--signal=B:TERM@", kStopBeforeLimitS),
      absl::StrCat("--output=",
                   submission.log_folder.empty()
                       ? "/dev/null"
                       : absl::StrCat(submission.log_folder, "/slurm-%A_%a.log"))};
  if (!submission.partition.empty()) {
    words.push_back(absl::StrCat("--partition=", submission.partition));
  }
  return words;
}

std::string TaskScript(const SlurmSubmission& submission) {
  std::vector<std::string> command;
  for (const std::string& word : submission.worker_command) {
    command.push_back(Quote(word));
  }
  return absl::StrCat(
      "#!/bin/sh\nset -- ",
      absl::StrJoin(submission.jobs, " "),
      "\nshift \"$SLURM_ARRAY_TASK_ID\"\nexec ",
      absl::StrJoin(command, " "),
      " --job \"$1\" --owner \"",
      SlurmOwner(submission.library_name, "${SLURM_ARRAY_JOB_ID}_${SLURM_ARRAY_TASK_ID}"),
      "\"\n");
}

std::vector<std::string> ListCommand(const std::string& library_name) {
  return {"squeue",
          "--noheader",
          "--array",
          "--states=all",
          absl::StrCat("--name=", library_name),
          "--format=%F|%K|%T|%k"};
}

absl::StatusOr<std::vector<SlurmTask>> ReadTasks(const std::string& output) {
  std::vector<SlurmTask> tasks;
  for (const absl::string_view line : absl::StrSplit(output, '\n', absl::SkipEmpty())) {
    const std::vector<std::string> fields = absl::StrSplit(line, '|');
    if (fields.size() == 4 && fields[1] == kNoIndex && !IsSlurmTaskOpen(fields[2])) {
      // Cancelled before any of its tasks began: there is nobody to follow.
      continue;
    }
    std::size_t index = 0;
    if (fields.size() != 4 || !absl::SimpleAtoi(fields[1], &index)) {
      return absl::InternalError(absl::StrCat("squeue printed a line of another form: ", line));
    }
    const std::vector<std::string> jobs = absl::StrSplit(fields[3], ' ');
    if (index >= jobs.size()) {
      return absl::InternalError(absl::StrCat("squeue printed a task without a job: ", line));
    }
    tasks.push_back(
        {.id = absl::StrCat(fields[0], "_", fields[1]), .job = jobs[index], .state = fields[2]});
  }
  return tasks;
}

std::vector<std::string> CancelCommand(const std::string& task_id) { return {"scancel", task_id}; }

std::string SlurmOwner(const std::string& library_name, const std::string& task_id) {
  return absl::StrCat("slurm/", library_name, "/", task_id);
}

bool IsSlurmTaskOpen(const std::string& state) {
  static constexpr std::array kEnded = {"BOOT_FAIL",
                                        "CANCELLED",
                                        "COMPLETED",
                                        "DEADLINE",
                                        "FAILED",
                                        "NODE_FAIL",
                                        "OUT_OF_MEMORY",
                                        "PREEMPTED",
                                        "REVOKED",
                                        "TIMEOUT"};
  return !IsOneOf(state, kEnded);
}

bool IsSlurmTaskWaiting(const std::string& state) {
  static constexpr std::array kWaiting = {"CONFIGURING", "PENDING", "REQUEUED", "REQUEUE_HOLD"};
  return IsOneOf(state, kWaiting);
}

bool IsSlurmTaskCrash(const std::string& state) {
  // What the cluster or its keepers did to it. A task that outlives its limit in spite of the
  // request to stop is at fault itself.
  static constexpr std::array kOthersFault = {
      "BOOT_FAIL", "CANCELLED", "NODE_FAIL", "PREEMPTED", "REVOKED"};
  return !IsSlurmTaskOpen(state) && !IsOneOf(state, kOthersFault);
}

}  // namespace gaitshelf::service
