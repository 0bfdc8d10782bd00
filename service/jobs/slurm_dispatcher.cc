#include "service/jobs/slurm_dispatcher.h"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <map>
#include <utility>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/strip.h"
#include "service/jobs/lost_job_event.h"
#include "service/jobs/round_thread.h"
#include "service/jobs/run_command.h"
#include "service/jobs/silence_watch.h"
#include "service/jobs/slurm_commands.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

using Clock = std::chrono::steady_clock;
using Seconds = std::chrono::duration<double>;

constexpr double kCommandTimeoutS = 20;
constexpr int kDefaultTaskLimit = 100;
constexpr int kGreatestTaskLimit = 1000;
// Between two submissions of a job whose worker never began; doubled up to the second.
constexpr double kFirstPauseS = 2;
constexpr double kLongestPauseS = 120;

// What the library and Slurm say in one round.
struct Picture {
  std::vector<std::string> queued;
  std::vector<RunningJob> running;
  std::vector<SlurmTask> tasks;
};

// How often a job was submitted since it was last seen to run.
struct Submissions {
  int count = 0;
  Clock::time_point time{};  // of the last
};

class SlurmDispatcher final : public Dispatcher {
 public:
  SlurmDispatcher(Library* library, SlurmDispatcherOptions options, std::string library_name)
      : library_(library),
        options_(std::move(options)),
        library_name_(std::move(library_name)),
        silence_(options_.lost_after_s),
        rounds_(options_.round_period_s, [this] { Round(); }, {}) {}

  void Wake() override { rounds_.Wake(); }
  void Stop() override { rounds_.Stop(); }

 private:
  // Does a round and complains once of what keeps it from its work.
  void Round();
  absl::Status DoRound();
  absl::StatusOr<Picture> Look();
  // Gives back the jobs of tasks that ended without ending them, and ends tasks that must.
  void FollowRunning(const Picture& picture);
  void FollowJob(const RunningJob& job, const SlurmTask* task);
  void GiveBack(const RunningJob& job, const JobLoss& loss);
  // Takes tasks out of Slurm's queue whose jobs were cancelled before they began.
  void DropCancelled(const Picture& picture);
  absl::Status SubmitQueued(const Picture& picture);
  absl::Status Submit(const std::vector<std::string>& jobs);
  bool MaySubmit(const std::string& job);
  void EndTask(const std::string& id);

  Library* const library_;
  const SlurmDispatcherOptions options_;
  const std::string library_name_;
  // Dispatching thread only:
  SilenceWatch silence_;
  std::map<std::string, Submissions> submissions_;          // by job
  std::map<std::string, Clock::time_point> cancel_wishes_;  // by owner; when first seen
  std::string last_complaint_;
  RoundThread rounds_;
};

void SlurmDispatcher::Round() {
  const absl::Status status = DoRound();
  const std::string complaint = status.ok() ? "" : status.ToString();
  if (!complaint.empty() && complaint != last_complaint_) {
    Tell(options_.log,
         {.level = LogLevel::kWarning,
          .what = "dispatching waits",
          .fields = {{"reason", complaint}}});
  }
  last_complaint_ = complaint;
}

absl::Status SlurmDispatcher::DoRound() {
  absl::StatusOr<Picture> picture = Look();
  if (!picture.ok()) {
    // Workers may have had no library to give a sign of life to.
    silence_.Clear();
    return picture.status();
  }
  FollowRunning(*picture);
  DropCancelled(*picture);
  return SubmitQueued(*picture);
}

absl::StatusOr<Picture> SlurmDispatcher::Look() {
  Picture picture;
  // The library first: a task that ends in between shows as ended, and giving back a job that it
  // has ended is refused by the fence.
  GAITSHELF_ASSIGN_OR_RETURN(picture.running, library_->ListRunningJobs());
  GAITSHELF_ASSIGN_OR_RETURN(picture.queued, library_->ListQueuedJobs(options_.task_limit));
  GAITSHELF_ASSIGN_OR_RETURN(const std::string output,
                             RunCommand(ListCommand(library_name_), "", kCommandTimeoutS));
  GAITSHELF_ASSIGN_OR_RETURN(picture.tasks, ReadTasks(output));
  return picture;
}

void SlurmDispatcher::FollowRunning(const Picture& picture) {
  silence_.KeepOnly(picture.running);
  std::erase_if(cancel_wishes_, [&](const auto& wish) {
    return std::none_of(picture.running.begin(), picture.running.end(), [&](const RunningJob& job) {
      return job.owner == wish.first;
    });
  });
  const std::string ours = SlurmOwner(library_name_, "");
  for (const RunningJob& job : picture.running) {
    if (!absl::StartsWith(job.owner, ours)) {
      continue;
    }
    // By job as well: a controller that was killed may use a number again.
    const auto task =
        std::find_if(picture.tasks.begin(), picture.tasks.end(), [&](const SlurmTask& one) {
          return one.job == job.fence.job && ours + one.id == job.owner;
        });
    FollowJob(job, task == picture.tasks.end() ? nullptr : &*task);
  }
}

void SlurmDispatcher::FollowJob(const RunningJob& job, const SlurmTask* task) {
  const bool is_silent = silence_.IsSilent(job);
  if (task != nullptr && !IsSlurmTaskOpen(task->state)) {
    GiveBack(job,
             {.reason = absl::StrCat("Slurm's task ", task->id, " ended as ", task->state),
              .is_crash = IsSlurmTaskCrash(task->state)});
  } else if (is_silent) {
    GiveBack(job, {.reason = "it gave no sign of life", .is_crash = task != nullptr});
    if (task != nullptr) {
      EndTask(task->id);
    }
  } else if (job.is_cancel_requested && task != nullptr) {
    // The worker sees the wish itself; this is for one that does not follow it.
    const Clock::time_point now = Clock::now();
    const auto [wish, is_new] = cancel_wishes_.try_emplace(job.owner, now);
    if (now - wish->second > Seconds(options_.cancel_after_s)) {
      EndTask(task->id);
    }
  }
}

void SlurmDispatcher::GiveBack(const RunningJob& job, const JobLoss& loss) {
  const absl::StatusOr<v1::Job> back = library_->RequeueLostJob(job.fence, loss);
  if (absl::IsResourceExhausted(back.status())) {
    // A library that is full took no sign of life either.
    silence_.Clear();
  }
  if (back.ok()) {
    Tell(options_.log, LostJobEvent(job.fence, loss, back->state()));
  }
}

void SlurmDispatcher::DropCancelled(const Picture& picture) {
  for (const SlurmTask& task : picture.tasks) {
    if (!IsSlurmTaskWaiting(task.state) ||
        std::find(picture.queued.begin(), picture.queued.end(), task.job) != picture.queued.end()) {
      continue;
    }
    const absl::StatusOr<v1::Job> job = library_->GetJob(task.job);
    if (job.ok() && job->state() != v1::JOB_STATE_QUEUED && job->state() != v1::JOB_STATE_RUNNING) {
      EndTask(task.id);
    }
  }
}

absl::Status SlurmDispatcher::SubmitQueued(const Picture& picture) {
  // Whatever waits no longer has begun or was cancelled.
  std::erase_if(submissions_, [&](const auto& entry) {
    return std::find(picture.queued.begin(), picture.queued.end(), entry.first) ==
           picture.queued.end();
  });
  int free_count = options_.task_limit -
                   static_cast<int>(std::count_if(
                       picture.tasks.begin(), picture.tasks.end(), [](const SlurmTask& task) {
                         return IsSlurmTaskOpen(task.state);
                       }));
  std::vector<std::string> jobs;
  for (const std::string& name : picture.queued) {
    const bool has_task =
        std::any_of(picture.tasks.begin(), picture.tasks.end(), [&](const SlurmTask& task) {
          return task.job == name && IsSlurmTaskOpen(task.state);
        });
    if (free_count <= 0 || has_task || !MaySubmit(name)) {
      continue;
    }
    --free_count;
    jobs.push_back(name);
    if (static_cast<int>(jobs.size()) == kMostSlurmTasks) {
      GAITSHELF_RETURN_IF_ERROR(Submit(jobs));
      jobs.clear();
    }
  }
  return jobs.empty() ? absl::OkStatus() : Submit(jobs);
}

bool SlurmDispatcher::MaySubmit(const std::string& job) {
  const auto found = submissions_.find(job);
  if (found == submissions_.end()) {
    return true;
  }
  const double pause_s =
      std::min(kLongestPauseS, kFirstPauseS * std::exp2(found->second.count - 1));
  return Clock::now() - found->second.time > Seconds(pause_s);
}

absl::Status SlurmDispatcher::Submit(const std::vector<std::string>& jobs) {
  const SlurmSubmission submission{.library_name = library_name_,
                                   .worker_command = options_.worker_command,
                                   .jobs = jobs,
                                   .partition = options_.partition,
                                   .limit_min = options_.limit_min,
                                   .log_folder = options_.log_folder};
  GAITSHELF_ASSIGN_OR_RETURN(
      const std::string output,
      RunCommand(SubmitCommand(submission), TaskScript(submission), kCommandTimeoutS));
  for (const std::string& job : jobs) {
    Submissions& submissions = submissions_[job];
    ++submissions.count;
    submissions.time = Clock::now();
    if (submissions.count == 3) {
      Tell(options_.log,
           {.level = LogLevel::kWarning,
            .what = "worker does not begin",
            .fields = {{"job", job},
                       {"submissions", submissions.count},
                       {"advice",
                        "is the worker program at the same path on every node, and does the "
                        "library's address hold there?"}}});
    }
  }
  Tell(options_.log,
       {.what = "jobs are submitted",
        .fields = {{"jobs", jobs.size()},
                   {"first_job", jobs.front()},
                   {"array", absl::StripSuffix(output, "\n")}}});
  return absl::OkStatus();
}

void SlurmDispatcher::EndTask(const std::string& id) {
  const absl::Status status = RunCommand(CancelCommand(id), "", kCommandTimeoutS).status();
  Tell(options_.log,
       status.ok() ? LogEvent{.what = "task is told to end", .fields = {{"task", id}}}
                   : LogEvent{.level = LogLevel::kWarning,
                              .what = "task cannot be ended",
                              .fields = {{"task", id}, {"reason", status.message()}}});
}

absl::Status CheckOptions(const SlurmDispatcherOptions& options) {
  if (options.library.empty() || options.worker_command.empty() ||
      !absl::StartsWith(options.worker_command.front(), "/") || options.task_limit < 0 ||
      options.task_limit > kGreatestTaskLimit || options.limit_min < 2 ||
      !(options.round_period_s > 0) || !(options.cancel_after_s >= 0) ||
      !(options.lost_after_s > 0)) {
    return absl::InvalidArgumentError(
        absl::StrCat("dispatching over Slurm needs a library's address, a worker program with its "
                     "whole path, 0 to ",
                     kGreatestTaskLimit,
                     " tasks, a limit of at least 2 minutes, and times above 0"));
  }
  return absl::OkStatus();
}

}  // namespace

absl::StatusOr<std::unique_ptr<Dispatcher>> StartSlurmDispatcher(Library* library,
                                                                 SlurmDispatcherOptions options) {
  GAITSHELF_RETURN_IF_ERROR(CheckOptions(options));
  if (options.task_limit == 0) {
    options.task_limit = kDefaultTaskLimit;
  }
  GAITSHELF_ASSIGN_OR_RETURN(std::string library_name, SlurmLibraryName(options.library));
  // A controller that is away is waited for, round by round: it may start after the server.
  GAITSHELF_RETURN_IF_ERROR(RunCommand({"squeue", "--version"}, "", kCommandTimeoutS).status());
  return std::make_unique<SlurmDispatcher>(library, std::move(options), std::move(library_name));
}

}  // namespace gaitshelf::service
