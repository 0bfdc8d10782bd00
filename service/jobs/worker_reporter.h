// The worker's line to the library while the solver works: a thread that writes the latest progress
// and checkpoint and watches for reasons to stop, so that the solver never waits for the disk.
#ifndef GAITSHELF_SERVICE_JOBS_WORKER_REPORTER_H_
#define GAITSHELF_SERVICE_JOBS_WORKER_REPORTER_H_

#include <atomic>
#include <chrono>
#include <condition_variable>
#include <mutex>
#include <optional>
#include <thread>

#include "gaitshelf/v1/job.pb.h"

#include "service/jobs/worker_job.h"
#include "service/library/library.h"

namespace gaitshelf::service {

class WorkerReporter {
 public:
  // Starts the thread. Library and options must outlive the reporter.
  WorkerReporter(Library* library, const JobFence& fence, const RunJobOptions& options);
  WorkerReporter(const WorkerReporter&) = delete;
  WorkerReporter& operator=(const WorkerReporter&) = delete;
  // Does what Finish does.
  ~WorkerReporter();

  // Take the latest word of the solver; what was not written yet is replaced.
  void ReportProgress(const v1::PlanProgress& progress);
  void ReportCheckpoint(const v1::PlanCheckpoint& checkpoint);

  // Writes what is left and ends the thread.
  void Finish();

  // Raised when the solver must stop, for whatever reason.
  [[nodiscard]] const std::atomic<bool>* stop() const { return &stop_; }
  [[nodiscard]] bool is_cancelled() const { return is_cancelled_; }
  [[nodiscard]] bool is_superseded() const { return is_superseded_; }
  // Last progress that was reported.
  v1::PlanProgress progress();

 private:
  using Clock = std::chrono::steady_clock;

  void Run();
  void LookForReasonsToStop();
  void WriteReports(bool is_last);
  // Keeps what a failed write means; true when it succeeded.
  bool Note(const absl::Status& status);

  Library* const library_;
  const JobFence fence_;
  const RunJobOptions& options_;
  std::atomic<bool> stop_{false};
  std::atomic<bool> is_cancelled_{false};
  std::atomic<bool> is_superseded_{false};

  std::mutex mutex_;
  std::condition_variable finish_wish_;
  bool is_finishing_ = false;                           // under mutex_
  v1::PlanProgress progress_;                           // under mutex_
  bool has_new_progress_ = false;                       // under mutex_
  std::optional<v1::PlanCheckpoint> checkpoint_;        // under mutex_; absent when written
  Clock::time_point progress_time_;                     // of the last write; reporter thread only
  Clock::time_point sign_of_life_time_ = Clock::now();  // reporter thread only
  std::thread thread_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_JOBS_WORKER_REPORTER_H_
