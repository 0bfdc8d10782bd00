#include "service/jobs/local_dispatcher.h"

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <condition_variable>
#include <csignal>
#include <cstdint>
#include <map>
#include <mutex>
#include <optional>
#include <thread>
#include <utility>

#include <sys/wait.h>
#include <unistd.h>

#include "absl/strings/str_cat.h"
#include "service/jobs/process_identity.h"
#include "service/jobs/worker_process.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

using Clock = std::chrono::steady_clock;
using Seconds = std::chrono::duration<double>;

constexpr auto kRoundPeriod = std::chrono::milliseconds(50);
// Looking for jobs of dead servers need not be quick.
constexpr auto kOrphanPeriod = std::chrono::seconds(1);

struct Child {
  JobFence fence;
  pid_t process = 0;
  std::optional<Clock::time_point> term_time{};  // when it was asked to end
  bool is_killed = false;                        // with SIGKILL
  bool is_stalled = false;                       // asked to end because it gave no sign of life
  std::optional<int> wait_status{};              // set once it has ended
};

struct SignOfLife {
  std::int64_t heartbeat_us = 0;  // as it stands in the library
  Clock::time_point seen_time{};  // when it was first seen so
};

class Dispatcher final : public LocalDispatcher {
 public:
  Dispatcher(Library* library, LocalDispatcherOptions options)
      : library_(library),
        options_(std::move(options)),
        owner_(IdentifyThisProcess()),
        thread_([this] { Run(); }) {}
  ~Dispatcher() override { Stop(); }

  void Wake() override {
    {
      const std::lock_guard<std::mutex> lock(mutex_);
      is_woken_ = true;
    }
    wish_.notify_all();
  }

  void Stop() override {
    const std::lock_guard<std::mutex> stop_lock(stop_mutex_);
    {
      const std::lock_guard<std::mutex> lock(mutex_);
      is_stopping_ = true;
    }
    wish_.notify_all();
    if (thread_.joinable()) {
      thread_.join();
    }
  }

 private:
  void Run();
  void DoRound();
  void Reap();
  void FollowRunning();
  void FollowChild(const RunningJob& job, Child* child);
  void RequeueOrphan(const RunningJob& job);
  bool IsSilent(const RunningJob& job);
  void ForgetSigns(const std::vector<RunningJob>& running);
  void FillSlots();
  void EndChildren();
  void Terminate(Child* child) const;
  void Log(const std::string& line) const;

  Library* const library_;
  const LocalDispatcherOptions options_;
  const std::string owner_;
  std::map<std::pair<std::string, int>, SignOfLife>
      signs_;                      // by job and attempt; dispatching thread only
  std::vector<Child> children_;    // dispatching thread only
  Clock::time_point orphan_time_;  // of the last look; dispatching thread only
  std::string last_complaint_;     // dispatching thread only
  std::mutex stop_mutex_;          // one caller of Stop at a time
  std::mutex mutex_;
  std::condition_variable wish_;
  bool is_woken_ = false;     // under mutex_
  bool is_stopping_ = false;  // under mutex_
  std::thread thread_;
};

void Dispatcher::Run() {
  std::unique_lock<std::mutex> lock(mutex_);
  while (!is_stopping_) {
    is_woken_ = false;
    lock.unlock();
    DoRound();
    lock.lock();
    wish_.wait_for(lock, kRoundPeriod, [this] { return is_woken_ || is_stopping_; });
  }
  lock.unlock();
  EndChildren();
}

void Dispatcher::DoRound() {
  Reap();
  FollowRunning();
  FillSlots();
}

// Gives back the jobs of workers that ended without ending them. A worker that did its work has
// ended its job itself, and the fence refuses to touch it.
void Dispatcher::Reap() {
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
    const bool is_asked = child.term_time.has_value() && !child.is_stalled;
    const JobLoss loss{.reason = child.is_stalled ? "it gave no sign of life and was killed"
                                                  : DescribeWaitStatus(*child.wait_status),
                       .is_crash = !is_asked && !IsStoppedExit(*child.wait_status)};
    const absl::StatusOr<v1::Job> job = library_->RequeueLostJob(child.fence, loss);
    if (job.ok()) {
      Log(absl::StrCat("job ",
                       child.fence.job,
                       " attempt ",
                       child.fence.attempt,
                       ": worker gone (",
                       loss.reason,
                       "), now ",
                       v1::JobState_Name(job->state())));
    }
    return job.ok() || absl::IsAborted(job.status()) || absl::IsNotFound(job.status());
  };
  children_.erase(std::remove_if(children_.begin(), children_.end(), is_settled), children_.end());
}

void Dispatcher::FollowRunning() {
  const absl::StatusOr<std::vector<RunningJob>> running = library_->ListRunningJobs();
  if (!running.ok()) {
    // Tried again in the next round. Workers could give no sign of life meanwhile: their silence
    // begins when the library is back.
    signs_.clear();
    return;
  }
  const bool is_orphan_round = Clock::now() - orphan_time_ >= kOrphanPeriod;
  if (is_orphan_round) {
    orphan_time_ = Clock::now();
  }
  ForgetSigns(*running);
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

// Silence is measured on our own steady clock, from when a heartbeat was first seen: clocks of
// hosts differ, and wall clocks jump.
bool Dispatcher::IsSilent(const RunningJob& job) {
  const Clock::time_point now = Clock::now();
  const auto [entry, is_new] = signs_.try_emplace({job.fence.job, job.fence.attempt});
  SignOfLife& sign = entry->second;
  if (is_new || sign.heartbeat_us != job.heartbeat_us) {
    sign = {.heartbeat_us = job.heartbeat_us, .seen_time = now};
  }
  return now - sign.seen_time > Seconds(options_.lost_after_s);
}

void Dispatcher::ForgetSigns(const std::vector<RunningJob>& running) {
  std::erase_if(signs_, [&](const auto& entry) {
    return std::none_of(running.begin(), running.end(), [&](const RunningJob& job) {
      return job.fence.job == entry.first.first && job.fence.attempt == entry.first.second;
    });
  });
}

void Dispatcher::FollowChild(const RunningJob& job, Child* child) {
  if (child->wait_status.has_value()) {
    return;
  }
  if (job.is_cancel_requested) {
    Terminate(child);
  } else if (IsSilent(job) && !child->is_stalled) {
    // It may not be able to follow a polite request.
    child->is_stalled = true;
    child->term_time = Clock::now();
    child->is_killed = true;
    kill(child->process, SIGKILL);
  }
}

void Dispatcher::RequeueOrphan(const RunningJob& job) {
  std::string reason;
  if (job.owner == owner_) {
    reason = "its worker could not be started";
  } else if (const ProcessLife life = LookUpProcess(job.owner); life == ProcessLife::kDead) {
    reason = "the server that looked after it is gone";
  } else if (IsSilent(job)) {
    reason = "it gave no sign of life";
  } else {
    return;
  }
  const absl::StatusOr<v1::Job> back =
      library_->RequeueLostJob(job.fence, JobLoss{.reason = reason, .is_crash = false});
  if (back.ok()) {
    Log(absl::StrCat(
        "job ", job.fence.job, ": ", reason, ", now ", v1::JobState_Name(back->state())));
  }
}

void Dispatcher::FillSlots() {
  while (static_cast<int>(children_.size()) < options_.slot_count) {
    const absl::StatusOr<std::optional<JobAttempt>> claim = library_->ClaimNextJob(owner_);
    const std::string complaint = claim.ok() ? "" : claim.status().ToString();
    if (!complaint.empty() && complaint != last_complaint_) {
      Log(absl::StrCat("cannot take a job from the queue: ", complaint));
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
      Log(absl::StrCat("job ", fence.job, ": ", process.status().ToString()));
      const JobLoss loss{.reason = std::string(process.status().message()), .is_crash = true};
      library_->RequeueLostJob(fence, loss).status().IgnoreError();
      return;
    }
    children_.push_back(Child{.fence = fence, .process = *process});
    Log(absl::StrCat("job ", fence.job, " attempt ", fence.attempt, ": worker ", *process));
  }
}

void Dispatcher::Terminate(Child* child) const {
  const Clock::time_point now = Clock::now();
  if (!child->term_time.has_value()) {
    child->term_time = now;
    kill(child->process, SIGTERM);
  } else if (!child->is_killed && now - *child->term_time >= Seconds(options_.kill_after_s)) {
    child->is_killed = true;
    kill(child->process, SIGKILL);
  }
}

void Dispatcher::EndChildren() {
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

void Dispatcher::Log(const std::string& line) const {
  if (options_.log) {
    options_.log(line);
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

absl::StatusOr<std::unique_ptr<LocalDispatcher>> StartLocalDispatcher(
    Library* library,
    LocalDispatcherOptions options) {
  GAITSHELF_RETURN_IF_ERROR(CheckOptions(options));
  if (options.slot_count == 0) {
    // One core is left for the server and its streams.
    options.slot_count = std::max(1, static_cast<int>(std::thread::hardware_concurrency()) - 1);
  }
  return std::make_unique<Dispatcher>(library, std::move(options));
}

}  // namespace gaitshelf::service
