#include "service/jobs/worker_reporter.h"

#include <atomic>
#include <chrono>
#include <cstdint>
#include <filesystem>
#include <thread>

#include "tests/service/jobs/job_fixture.h"
#include "tests/support/size_limit.h"

namespace gaitshelf::service {
namespace {

class WorkerReporterTest : public JobFixture {
 protected:
  void SetUp() override {
    JobFixture::SetUp();
    job_ = Order("key");
    fence_ = Claim();
  }
  static v1::PlanProgress Iteration(int count) {
    v1::PlanProgress progress;
    progress.set_iteration(count);
    return progress;
  }
  static v1::PlanCheckpoint Round(int count) {
    v1::PlanCheckpoint checkpoint;
    checkpoint.set_round(count);
    return checkpoint;
  }

  std::string job_;
  JobFence fence_;
  std::atomic<bool> stop_{false};
  RunJobOptions options_{.stop = &stop_,
                         .progress_period_s = 0.02,
                         .poll_period_s = 0.01,
                         .heartbeat_period_s = 0.05};
};

TEST_F(WorkerReporterTest, WritesProgressAndCheckpointWhileTheSolverWorks) {
  WorkerReporter reporter(library_.get(), fence_, options_);
  reporter.ReportProgress(Iteration(4));
  reporter.ReportCheckpoint(Round(2));
  EXPECT_TRUE(Await([&] { return Job(job_).progress().iteration() == 4; }));
  EXPECT_TRUE(Await([&] { return library_->GetAttempt(fence_)->checkpoint.has_value(); }));
  EXPECT_FALSE(*reporter.stop());
}

TEST_F(WorkerReporterTest, WritesTheLastWordAtTheEnd) {
  options_.progress_period_s = 1000.0;
  WorkerReporter reporter(library_.get(), fence_, options_);
  for (int i = 1; i <= 100; ++i) {
    reporter.ReportProgress(Iteration(i));
    reporter.ReportCheckpoint(Round(i));
  }
  reporter.Finish();
  EXPECT_EQ(Job(job_).progress().iteration(), 100);
  EXPECT_EQ(library_->GetAttempt(fence_)->checkpoint->round(), 100);
  EXPECT_EQ(reporter.progress().iteration(), 100);
}

TEST_F(WorkerReporterTest, ShowsProgressThatIsNeverBehindTheCheckpoint) {
  options_.progress_period_s = 1000.0;
  WorkerReporter reporter(library_.get(), fence_, options_);
  reporter.ReportProgress(Iteration(1));
  ASSERT_TRUE(Await([&] { return Job(job_).progress().iteration() == 1; }));
  reporter.ReportProgress(Iteration(40));
  reporter.ReportCheckpoint(Round(3));
  ASSERT_TRUE(Await([&] { return library_->GetAttempt(fence_)->checkpoint.has_value(); }));
  EXPECT_EQ(Job(job_).progress().iteration(), 40);
}

TEST_F(WorkerReporterTest, KeepsACheckpointUntilTheLibraryHasRoomForIt) {
  v1::PlanCheckpoint checkpoint = Round(7);
  checkpoint.mutable_unknown_ratio()->Resize(20'000, 0.1);
  WorkerReporter reporter(library_.get(), fence_, options_);
  {
    const test::SizeLimit limit(std::filesystem::file_size(path_ + "-wal"));
    reporter.ReportCheckpoint(checkpoint);
    std::this_thread::sleep_for(std::chrono::milliseconds(200));
    EXPECT_FALSE(library_->GetAttempt(fence_)->checkpoint.has_value());
  }
  EXPECT_TRUE(Await([&] { return library_->GetAttempt(fence_)->checkpoint.has_value(); }));
}

TEST_F(WorkerReporterTest, GivesSignsOfLifeWhileTheSolverIsSilent) {
  const std::int64_t first_us = library_->ListRunningJobs()->at(0).heartbeat_us;
  const WorkerReporter reporter(library_.get(), fence_, options_);
  EXPECT_TRUE(Await([&] { return library_->ListRunningJobs()->at(0).heartbeat_us > first_us; }));
}

TEST_F(WorkerReporterTest, StopsWhenTheProcessMustEnd) {
  const WorkerReporter reporter(library_.get(), fence_, options_);
  stop_ = true;
  EXPECT_TRUE(Await([&] { return reporter.stop()->load(); }));
  EXPECT_FALSE(reporter.is_cancelled());
  EXPECT_FALSE(reporter.is_superseded());
}

TEST_F(WorkerReporterTest, StopsWhenTheJobIsCancelled) {
  const WorkerReporter reporter(library_.get(), fence_, options_);
  ASSERT_THAT(library_->RequestCancel(job_, "ada"), test::IsOk());
  EXPECT_TRUE(Await([&] { return reporter.stop()->load(); }));
  EXPECT_TRUE(reporter.is_cancelled());
}

TEST_F(WorkerReporterTest, StopsWhenAnotherAttemptHasTheJob) {
  const WorkerReporter reporter(library_.get(), fence_, options_);
  ASSERT_THAT(library_->RequeueLostJob(fence_, {.reason = "given up"}), test::IsOk());
  EXPECT_TRUE(Await([&] { return reporter.stop()->load(); }));
  EXPECT_TRUE(reporter.is_superseded());
}

}  // namespace
}  // namespace gaitshelf::service
