#include "service/jobs/local_dispatcher.h"

#include <algorithm>
#include <filesystem>

#include <sqlite3.h>
#include <sys/wait.h>
#include <unistd.h>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "service/jobs/process_identity.h"
#include "tests/service/jobs/job_fixture.h"
#include "tests/support/log_lines.h"
#include "tests/support/paths.h"
#include "tests/support/size_limit.h"

namespace gaitshelf::service {
namespace {

using testing::HasSubstr;

class LocalDispatcherTest : public JobFixture {
 protected:
  LocalDispatcherOptions Options(const std::string& mode) {
    return {.worker_command = {test::ProgramPath("odd_worker"), path_, mode},
            .slot_count = 1,
            .kill_after_s = 0.3,
            .log = log_.log()};
  }
  void Start(const LocalDispatcherOptions& options) {
    auto started = StartLocalDispatcher(library_.get(), options);
    ASSERT_THAT(started, test::IsOk());
    dispatcher_ = std::move(*started);
  }
  void TearDown() override {
    dispatcher_.reset();
    // Nothing of ours lives on.
    EXPECT_EQ(waitpid(-1, nullptr, WNOHANG), -1);
  }
  // Changes the library's tables behind its back.
  void Execute(const std::string& sql) const {
    sqlite3* handle = nullptr;
    ASSERT_EQ(sqlite3_open(path_.c_str(), &handle), SQLITE_OK);
    sqlite3_busy_timeout(handle, 5000);
    EXPECT_EQ(sqlite3_exec(handle, sql.c_str(), nullptr, nullptr, nullptr), SQLITE_OK);
    sqlite3_close(handle);
  }
  std::size_t RunningCount() { return library_->ListRunningJobs()->size(); }

  test::LogLines log_;
  std::unique_ptr<Dispatcher> dispatcher_;
};

TEST_F(LocalDispatcherTest, RunsWhatIsQueuedAndWhatComesLater) {
  const std::string first = Order("key 1");
  Start(Options("finish"));
  EXPECT_TRUE(AwaitState(first, v1::JOB_STATE_DONE));
  const std::string second = Order("key 2");
  dispatcher_->Wake();
  EXPECT_TRUE(AwaitState(second, v1::JOB_STATE_DONE));
  EXPECT_EQ(Job(second).attempt(), 1);
}

TEST_F(LocalDispatcherTest, KeepsToItsSlots) {
  for (int i = 0; i < 6; ++i) {
    Order(absl::StrCat("key ", i));
  }
  LocalDispatcherOptions options = Options("slow");
  options.slot_count = 2;
  Start(options);
  std::size_t most = 0;
  EXPECT_TRUE(Await([&] {
    most = std::max(most, RunningCount());
    return library_->ListJobs(true, {})->jobs.empty();
  }));
  EXPECT_EQ(most, 2U);
}

TEST_F(LocalDispatcherTest, RunsAJobAgainAfterACrashFromItsCheckpoint) {
  const std::string job = Order("key");
  Start(Options("crash-once"));
  EXPECT_TRUE(AwaitState(job, v1::JOB_STATE_DONE));
  EXPECT_EQ(Job(job).attempt(), 2);
  EXPECT_THAT(log_.text(), HasSubstr("signal 11"));
}

TEST_F(LocalDispatcherTest, GivesUpAJobThatCrashesAgainAndAgain) {
  const std::string job = Order("key");
  Start(Options("crash"));
  EXPECT_TRUE(AwaitState(job, v1::JOB_STATE_FAILED));
  EXPECT_EQ(Job(job).attempt(), 3);
  EXPECT_THAT(Job(job).failure_reason(), HasSubstr("signal 11 (Segmentation fault)"));
}

TEST_F(LocalDispatcherTest, TakesAnExitWithoutResultForACrash) {
  const std::string job = Order("key");
  Start(Options("exit-3"));
  EXPECT_TRUE(AwaitState(job, v1::JOB_STATE_FAILED));
  EXPECT_THAT(Job(job).failure_reason(), HasSubstr("exit status 3"));
}

TEST_F(LocalDispatcherTest, FailsAJobWhoseWorkerCannotBeStarted) {
  const std::string job = Order("key");
  LocalDispatcherOptions options = Options("finish");
  options.worker_command[0] = folder_.path();  // may be entered, not run
  Start(options);
  EXPECT_TRUE(AwaitState(job, v1::JOB_STATE_FAILED));
  EXPECT_EQ(Job(job).attempt(), 3);
  EXPECT_THAT(Job(job).failure_reason(), HasSubstr("could not be started"));
}

TEST_F(LocalDispatcherTest, AWorkerThatFindsNoStorageHasNotCrashed) {
  // A job that has crashed stands behind the others.
  const std::string first = Order("key 1");
  const std::string second = Order("key 2");
  Start(Options("gives-up-once"));
  EXPECT_TRUE(AwaitState(second, v1::JOB_STATE_DONE));
  EXPECT_EQ(Job(first).state(), v1::JOB_STATE_DONE);
  const auto start_of = [this](const std::string& job, int attempt) {
    return log_.text().find(
        absl::StrCat("event=\"worker is started\" job=", job, " attempt=", attempt));
  };
  ASSERT_NE(start_of(second, 1), std::string::npos) << log_.text();
  EXPECT_LT(start_of(first, 2), start_of(second, 1)) << log_.text();
}

TEST_F(LocalDispatcherTest, CancelsARunningJob) {
  const std::string job = Order("key");
  Start(Options("polite"));
  ASSERT_TRUE(AwaitState(job, v1::JOB_STATE_RUNNING));
  ASSERT_THAT(library_->RequestCancel(job, "ada"), test::IsOk());
  dispatcher_->Wake();
  EXPECT_TRUE(AwaitState(job, v1::JOB_STATE_CANCELLED));
}

TEST_F(LocalDispatcherTest, KillsAWorkerThatDoesNotFollow) {
  const std::string job = Order("key");
  Start(Options("stubborn"));
  // It tells when it has come to ignore SIGTERM.
  ASSERT_TRUE(Await([&] { return Job(job).progress().iteration() > 0; }));
  ASSERT_THAT(library_->RequestCancel(job, "ada"), test::IsOk());
  EXPECT_TRUE(AwaitState(job, v1::JOB_STATE_CANCELLED));
  EXPECT_THAT(log_.text(), HasSubstr("signal 9"));
}

TEST_F(LocalDispatcherTest, ReplacesAWorkerThatGivesNoSignOfLife) {
  const std::string job = Order("key");
  LocalDispatcherOptions options = Options("stalls-once");
  options.lost_after_s = 2.0;  // well above the start of a process on a busy machine
  Start(options);
  EXPECT_TRUE(AwaitState(job, v1::JOB_STATE_DONE));
  EXPECT_EQ(Job(job).attempt(), 2);
  EXPECT_THAT(log_.text(), HasSubstr("no sign of life"));
}

TEST_F(LocalDispatcherTest, LeavesASilentWorkerAloneWhileTheLibraryIsFull) {
  const std::string job = Order("key");
  LocalDispatcherOptions options = Options("stalls-once");
  options.lost_after_s = 2.0;
  Start(options);
  ASSERT_TRUE(AwaitState(job, v1::JOB_STATE_RUNNING));
  {
    // No worker can give a sign of life now, also one that is at work.
    const test::SizeLimit limit(std::filesystem::file_size(path_ + "-wal"));
    usleep(2'500'000);
    EXPECT_EQ(Job(job).attempt(), 1);
    EXPECT_THAT(log_.text(), testing::Not(HasSubstr("no sign of life")));
    EXPECT_THAT(log_.text(), testing::Not(HasSubstr("lost its worker")));
  }
  EXPECT_TRUE(AwaitState(job, v1::JOB_STATE_DONE)) << log_.text();
  EXPECT_GE(Job(job).attempt(), 2);
}

TEST_F(LocalDispatcherTest, LeavesASilentWorkerAloneWhileTheLibraryCannotBeRead) {
  const std::string job = Order("key");
  LocalDispatcherOptions options = Options("stalls-once");
  options.lost_after_s = 2.0;
  Start(options);
  ASSERT_TRUE(AwaitState(job, v1::JOB_STATE_RUNNING));
  usleep(500'000);  // so that the silence has begun
  Execute("ALTER TABLE jobs RENAME TO jobs_out_of_reach");
  usleep(2'500'000);
  Execute("ALTER TABLE jobs_out_of_reach RENAME TO jobs");
  // A silence begins when the library is back.
  usleep(500'000);
  EXPECT_EQ(Job(job).attempt(), 1);
  EXPECT_TRUE(AwaitState(job, v1::JOB_STATE_DONE));
  EXPECT_GE(Job(job).attempt(), 2);
}

TEST_F(LocalDispatcherTest, AJumpOfTheWallClockEndsNoWorker) {
  const std::string job = Order("key");
  LocalDispatcherOptions options = Options("slow");
  options.lost_after_s = 5.0;
  Start(options);
  ASSERT_TRUE(AwaitState(job, v1::JOB_STATE_RUNNING));
  // As if the clock had been set forward by an hour after the last heartbeat.
  Execute("UPDATE jobs SET heartbeat_us = heartbeat_us - 3600000000");
  EXPECT_TRUE(AwaitState(job, v1::JOB_STATE_DONE));
  EXPECT_EQ(Job(job).attempt(), 1);
}

TEST_F(LocalDispatcherTest, GivesJobsBackWhenItStops) {
  const std::string first = Order("key 1");
  const std::string second = Order("key 2");
  Start(Options("polite"));
  ASSERT_TRUE(AwaitState(first, v1::JOB_STATE_RUNNING));
  dispatcher_->Stop();
  EXPECT_EQ(Job(first).state(), v1::JOB_STATE_QUEUED);
  EXPECT_EQ(Job(second).state(), v1::JOB_STATE_QUEUED);
  dispatcher_.reset();
  Start(Options("finish"));
  EXPECT_TRUE(AwaitState(first, v1::JOB_STATE_DONE));
  EXPECT_EQ(Job(first).attempt(), 2);
}

TEST_F(LocalDispatcherTest, StopsInTimeWhenAWorkerDoesNotFollow) {
  const std::string job = Order("key");
  Start(Options("stubborn"));
  ASSERT_TRUE(Await([&] { return Job(job).progress().iteration() > 0; }));
  const auto start = std::chrono::steady_clock::now();
  dispatcher_->Stop();
  EXPECT_LT(std::chrono::steady_clock::now() - start, std::chrono::seconds(2));
  EXPECT_EQ(Job(job).state(), v1::JOB_STATE_QUEUED);
}

TEST_F(LocalDispatcherTest, TakesOverTheJobsOfADeadServer) {
  const std::string job = Order("key");
  const pid_t server = fork();
  if (server == 0) {
    auto library = OpenSqliteLibrary(path_, {});
    _exit(library.ok() && (*library)->ClaimNextJob(IdentifyThisProcess()).ok() ? 0 : 1);
  }
  int status = 1;
  waitpid(server, &status, 0);
  ASSERT_EQ(status, 0);
  ASSERT_EQ(Job(job).state(), v1::JOB_STATE_RUNNING);
  Start(Options("finish"));
  EXPECT_TRUE(AwaitState(job, v1::JOB_STATE_DONE));
  EXPECT_EQ(Job(job).attempt(), 2);
}

TEST_F(LocalDispatcherTest, LeavesTheJobsOfALivingServerAlone) {
  const std::string job = Order("key");
  const auto claim = library_->ClaimNextJob("another-host/boot/1/1");
  ASSERT_THAT(claim, test::IsOk());
  LocalDispatcherOptions options = Options("finish");
  options.lost_after_s = 2.5;
  Start(options);
  usleep(1'500'000);
  EXPECT_EQ(Job(job).attempt(), 1);
  EXPECT_EQ(Job(job).state(), v1::JOB_STATE_RUNNING);
  // Until it has been silent for too long.
  EXPECT_TRUE(AwaitState(job, v1::JOB_STATE_DONE));
  EXPECT_EQ(Job(job).attempt(), 2);
}

TEST_F(LocalDispatcherTest, RefusesOptionsThatMakeNoSense) {
  LocalDispatcherOptions options = Options("finish");
  options.worker_command[0] = "/nowhere/worker";
  EXPECT_THAT(StartLocalDispatcher(library_.get(), options),
              test::HasStatus(absl::StatusCode::kNotFound, HasSubstr("/nowhere/worker")));
  options = Options("finish");
  options.slot_count = -1;
  EXPECT_TRUE(absl::IsInvalidArgument(StartLocalDispatcher(library_.get(), options).status()));
  options = Options("finish");
  options.worker_command.clear();
  EXPECT_TRUE(absl::IsInvalidArgument(StartLocalDispatcher(library_.get(), options).status()));
}

}  // namespace
}  // namespace gaitshelf::service
