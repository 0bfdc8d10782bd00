#include "service/jobs/local_dispatcher.h"

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <optional>
#include <thread>
#include <utility>

#include <sys/wait.h>
#include <unistd.h>

#include "absl/strings/str_cat.h"
#include "service/jobs/lost_job_event.h"
#include "service/jobs/process_identity.h"
#include "service/jobs/round_thread.h"
#include "service/jobs/silence_watch.h"
#include "service/jobs/worker_process.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

using Clock = std::chrono::steady_clock;
using Seconds = std::chrono::duration<double>;

constexpr double kRoundPeriodS = 0.05;
// Looking for jobs of dead servers need not be quick.
constexpr auto kOrphanPeriod = std::chrono::seconds(1);
// After a worker gave up because the library was full or out of reach.
constexpr auto kStoragePause = std::chrono::seconds(2);

struct Child {
  JobFence fence;
  pid_t process = 0;
  std::optional<Clock::time_point> term_time{};  // when it was asked to end
  bool is_killed = false;                        // with SIGKILL
  std::optional<int> wait_status{};              // set once it has ended
};

class LocalDispatcher final : public Dispatcher {
 public:
  LocalDispatcher(Library* library, LocalDispatcherOptions options)
      : library_(library),
        options_(std::move(options)),
        owner_(IdentifyThisProcess()),
        silence_(options_.lost_after_s),
        rounds_(
            kRoundPeriodS,
            [this] { DoRound(); },
            [this] { EndChildren(); }) {}

  void Wake() override { rounds_.Wake(); }
  void Stop() override { rounds_.Stop(); }

 private:
  void DoRound();
  void Reap();
  void FollowRunning();
  void FollowChild(const RunningJob& job, Child* child);
  void RequeueOrphan(const RunningJob& job);
  // Takes a job from whoever has it; returns whether it could.
  bool TakeBack(const RunningJob& job, const std::string& reason, bool is_crash);
  void FillSlots();
  void EndChildren();
  void Terminate(Child* child) const;

  Library* const library_;
  const LocalDispatcherOptions options_;
  const std::string owner_;
  SilenceWatch silence_;           // dispatching thread only
  std::vector<Child> children_;    // dispatching thread only
  Clock::time_point orphan_time_;  // of the last look; dispatching thread only
  Clock::time_point claim_time_;   // before which no job is taken; dispatching thread only
  std::string last_complaint_;     // dispatching thread only
  RoundThread rounds_;
};

void LocalDispatcher::DoRound() {
  Reap();
  FollowRunning();
  FillSlots();
}

// Gives back the jobs of workers that ended without ending them. A worker that did its work has
// ended its job itself, and the fence refuses to touch it.
void LocalDispatcher::Reap() {
  for (Child& child : children_) {
    int status = 0;
    if (!child.wait_status.has_value() && waitpid(child.process, &status, WNOHANG) != 0) {
      child.wait_status = status;
    }
  }
  const auto is_settled = [this](const Child& child) {
    if (!child.wait_status.has_value()) {
      return false;
    }
    const bool is_stopped = IsStoppedExit(*child.wait_status);
    const JobLoss loss{.reason = DescribeWaitStatus(*child.wait_status),
                       .is_crash = !child.term_time.has_value() && !is_stopped};
    const absl::StatusOr<v1::Job> job = library_->RequeueLostJob(child.fence, loss);
    if (job.ok() && is_stopped && !child.term_time.has_value()) {
      claim_time_ = Clock::now() + kStoragePause;
    }
    if (job.ok()) {
      Tell(options_.log, LostJobEvent(child.fence, loss, job->state()));
    }
    return job.ok() || absl::IsAborted(job.status()) || absl::IsNotFound(job.status());
  };
  children_.erase(std::remove_if(children_.begin(), children_.end(), is_settled), children_.end());
}

void LocalDispatcher::FollowRunning() {
  const absl::StatusOr<std::vector<RunningJob>> running = library_->ListRunningJobs();
  if (!running.ok()) {
    // Tried again in the next round. Workers could give no sign of life meanwhile: their silence
    // begins when the library is back.
    silence_.Clear();
    return;
  }
  const bool is_orphan_round = Clock::now() - orphan_time_ >= kOrphanPeriod;
  if (is_orphan_round) {
    orphan_time_ = Clock::now();
  }
  silence_.KeepOnly(*running);
  for (const RunningJob& job : *running) {
    const auto child = std::find_if(children_.begin(), children_.end(), [&](const Child& one) {
      return one.fence.job == job.fence.job && one.fence.attempt == job.fence.attempt;
    });
    if (child != children_.end()) {
      FollowChild(job, &*child);
    } else if (is_orphan_round) {
      RequeueOrphan(job);
    }
  }
}

void LocalDispatcher::FollowChild(const RunningJob& job, Child* child) {
  if (child->wait_status.has_value()) {
    return;
  }
  if (job.is_cancel_requested) {
    Terminate(child);
  } else if (silence_.IsSilent(job) && TakeBack(job, "it gave no sign of life", true)) {
    // It may not be able to follow a polite request.
    child->term_time = Clock::now();
    child->is_killed = true;
    kill(child->process, SIGKILL);
  }
}

void LocalDispatcher::RequeueOrphan(const RunningJob& job) {
  std::string reason;
  if (job.owner == owner_) {
    reason = "its worker could not be started";
  } else if (const ProcessLife life = LookUpProcess(job.owner); life == ProcessLife::kDead) {
    reason = "the server that looked after it is gone";
  } else if (silence_.IsSilent(job)) {
    reason = "it gave no sign of life";
  } else {
    return;
  }
  TakeBack(job, reason, false);
}

bool LocalDispatcher::TakeBack(const RunningJob& job, const std::string& reason, bool is_crash) {
  const JobLoss loss{.reason = reason, .is_crash = is_crash};
  const absl::StatusOr<v1::Job> back = library_->RequeueLostJob(job.fence, loss);
  if (!back.ok()) {
    if (!absl::IsAborted(back.status())) {
      // A library that takes no change from here takes no sign of life from workers.
      silence_.Clear();
    }
    return false;
  }
  Tell(options_.log, LostJobEvent(job.fence, loss, back->state()));
  return true;
}

void LocalDispatcher::FillSlots() {
  while (Clock::now() >= claim_time_ && static_cast<int>(children_.size()) < options_.slot_count) {
    const absl::StatusOr<std::optional<JobAttempt>> claim = library_->ClaimNextJob(owner_);
    const std::string complaint = claim.ok() ? "" : claim.status().ToString();
    if (!complaint.empty() && complaint != last_complaint_) {
      Tell(options_.log,
           {.level = LogLevel::kWarning,
            .what = "no job can be taken from the queue",
            .fields = {{"reason", complaint}}});
    }
    last_complaint_ = complaint;
    if (!claim.ok() || !claim->has_value()) {
      return;
    }
    const v1::Job& job = (*claim)->job;
    const JobFence fence{.job = job.name(), .attempt = job.attempt()};
    const absl::StatusOr<pid_t> process =
        StartWorkerProcess(options_.worker_command, fence, options_.nice_increment);
    if (!process.ok()) {
      Tell(options_.log,
           {.level = LogLevel::kError,
            .what = "worker cannot be started",
            .fields = {{"job", fence.job},
                       {"attempt", fence.attempt},
                       {"reason", process.status().ToString()}}});
      const JobLoss loss{.reason = std::string(process.status().message()), .is_crash = true};
      library_->RequeueLostJob(fence, loss).status().IgnoreError();
      return;
    }
    children_.push_back(Child{.fence = fence, .process = *process});
    Tell(options_.log,
         {.what = "worker is started",
          .fields = {{"job", fence.job}, {"attempt", fence.attempt}, {"process", *process}}});
  }
}

void LocalDispatcher::Terminate(Child* child) const {
  const Clock::time_point now = Clock::now();
  if (!child->term_time.has_value()) {
    child->term_time = now;
    kill(child->process, SIGTERM);
  } else if (!child->is_killed && now - *child->term_time >= Seconds(options_.kill_after_s)) {
    child->is_killed = true;
    kill(child->process, SIGKILL);
  }
}

void LocalDispatcher::EndChildren() {
  // The second span is for a library that takes no writes: the jobs are then left running, and the
  // next server finds that this one is gone.
  const Clock::time_point give_up_time = Clock::now() + std::chrono::duration_cast<Clock::duration>(
                                                            Seconds(2 * options_.kill_after_s + 1));
  while (!children_.empty() && Clock::now() < give_up_time) {
    for (Child& child : children_) {
      if (!child.wait_status.has_value()) {
        Terminate(&child);
      }
    }
    std::this_thread::sleep_for(std::chrono::milliseconds(10));
    Reap();
  }
}

absl::Status CheckOptions(const LocalDispatcherOptions& options) {
  if (options.worker_command.empty() || options.slot_count < 0 || options.nice_increment < 0 ||
      !(options.kill_after_s >= 0) || !(options.lost_after_s > 0)) {
    return absl::InvalidArgumentError(
        "a dispatcher needs a worker command, no negative slots, nice or kill time, and a loss "
        "time above 0");
  }
  const std::string& program = options.worker_command.front();
  if (access(program.c_str(), X_OK) != 0) {
    return absl::NotFoundError(absl::StrCat(
        "worker program ", program, " cannot be run; build it or name the right path"));
  }
  return absl::OkStatus();
}

}  // namespace

absl::StatusOr<std::unique_ptr<Dispatcher>> StartLocalDispatcher(Library* library,
                                                                 LocalDispatcherOptions options) {
  GAITSHELF_RETURN_IF_ERROR(CheckOptions(options));
  if (options.slot_count == 0) {
    // One core is left for the server and its streams.
    options.slot_count = std::max(1, static_cast<int>(std::thread::hardware_concurrency()) - 1);
  }
  return std::make_unique<LocalDispatcher>(library, std::move(options));
}

}  // namespace gaitshelf::service
