#include "service/jobs/worker_reporter.h"

#include <utility>

namespace gaitshelf::service {
namespace {

using Seconds = std::chrono::duration<double>;

}  // namespace

WorkerReporter::WorkerReporter(Library* library,
                               const JobFence& fence,
                               const RunJobOptions& options)
    : library_(library), fence_(fence), options_(options), thread_([this] { Run(); }) {}

WorkerReporter::~WorkerReporter() { Finish(); }

void WorkerReporter::ReportProgress(const v1::PlanProgress& progress) {
  const std::lock_guard<std::mutex> lock(mutex_);
  progress_ = progress;
  has_new_progress_ = true;
}

void WorkerReporter::ReportCheckpoint(const v1::PlanCheckpoint& checkpoint) {
  const std::lock_guard<std::mutex> lock(mutex_);
  checkpoint_ = checkpoint;
}

v1::PlanProgress WorkerReporter::progress() {
  const std::lock_guard<std::mutex> lock(mutex_);
  return progress_;
}

void WorkerReporter::Finish() {
  {
    const std::lock_guard<std::mutex> lock(mutex_);
    is_finishing_ = true;
  }
  finish_wish_.notify_all();
  if (thread_.joinable()) {
    thread_.join();
  }
}

void WorkerReporter::Run() {
  std::unique_lock<std::mutex> lock(mutex_);
  while (!is_finishing_) {
    lock.unlock();
    LookForReasonsToStop();
    WriteReports(false);
    lock.lock();
    finish_wish_.wait_for(lock, Seconds(options_.poll_period_s), [this] { return is_finishing_; });
  }
  lock.unlock();
  LookForReasonsToStop();
  WriteReports(true);
}

void WorkerReporter::LookForReasonsToStop() {
  if (options_.stop != nullptr && *options_.stop) {
    stop_ = true;
  }
  const absl::StatusOr<bool> is_cancel_requested = library_->IsCancelRequested(fence_);
  if (Note(is_cancel_requested.status()) && *is_cancel_requested) {
    is_cancelled_ = true;
    stop_ = true;
  }
}

void WorkerReporter::WriteReports(bool is_last) {
  const Clock::time_point now = Clock::now();
  std::optional<v1::PlanCheckpoint> checkpoint;
  std::optional<v1::PlanProgress> progress;
  {
    const std::lock_guard<std::mutex> lock(mutex_);
    checkpoint.swap(checkpoint_);
    const bool is_due = is_last || checkpoint.has_value() ||
                        now - progress_time_ >= Seconds(options_.progress_period_s);
    if (has_new_progress_ && is_due) {
      progress = progress_;
      has_new_progress_ = false;
    }
  }
  // A write that failed for the moment is tried again, unless there is something newer by then.
  // Progress goes first: what a job shows after a crash is never behind where it goes on.
  if (progress.has_value()) {
    progress_time_ = now;
    if (Note(library_->WriteProgress(fence_, *progress))) {
      sign_of_life_time_ = now;
    } else {
      const std::lock_guard<std::mutex> lock(mutex_);
      has_new_progress_ = true;
    }
  }
  if (checkpoint.has_value()) {
    if (Note(library_->WriteCheckpoint(fence_, *checkpoint))) {
      sign_of_life_time_ = now;
    } else {
      const std::lock_guard<std::mutex> lock(mutex_);
      if (!checkpoint_.has_value()) {
        checkpoint_ = std::move(checkpoint);
      }
    }
  }
  if (now - sign_of_life_time_ >= Seconds(options_.heartbeat_period_s) &&
      Note(library_->WriteHeartbeat(fence_))) {
    sign_of_life_time_ = now;
  }
}

bool WorkerReporter::Note(const absl::Status& status) {
  if (absl::IsAborted(status) || absl::IsNotFound(status)) {
    is_superseded_ = true;
    stop_ = true;
  }
  return status.ok();
}

}  // namespace gaitshelf::service
