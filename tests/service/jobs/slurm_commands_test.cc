#include "service/jobs/slurm_commands.h"

#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "service/jobs/run_command.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

using testing::Contains;
using testing::HasSubstr;

SlurmSubmission MakeSubmission() {
  return {.library_name = "gaitshelf-0123",
          .worker_command = {"/opt/it's here/worker", "--library", "postgresql://db/gaits?a=b&c=d"},
          .jobs = {"j-7", "j-9", "j-12"}};
}

TEST(SlurmCommandsTest, NamesALibraryByItsAddress) {
  const auto name = SlurmLibraryName("postgresql://db/gaits");
  ASSERT_THAT(name, test::IsOk());
  EXPECT_EQ(name->size(), std::string("gaitshelf-").size() + 12);
  EXPECT_NE(*name, *SlurmLibraryName("postgresql://db/others"));
}

TEST(SlurmCommandsTest, SubmitsAnArrayThatNamesItsJobs) {
  SlurmSubmission submission = MakeSubmission();
  const auto words = SubmitCommand(submission);
  EXPECT_THAT(words, Contains("--array=0-2"));
  EXPECT_THAT(words, Contains("--comment=j-7 j-9 j-12"));
  EXPECT_THAT(words, Contains("--job-name=gaitshelf-0123"));
  EXPECT_THAT(words, Contains("--time=60"));
  EXPECT_THAT(words, Contains("--no-requeue"));
  EXPECT_THAT(words, Contains("--output=/dev/null"));
  submission.partition = "short";
  submission.log_folder = "/var/log/gaits";
  EXPECT_THAT(SubmitCommand(submission), Contains("--partition=short"));
  EXPECT_THAT(SubmitCommand(submission), Contains("--output=/var/log/gaits/slurm-%A_%a.log"));
}

TEST(SlurmCommandsTest, TheScriptRunsTheWorkerForTheTasksOwnJob) {
  SlurmSubmission submission = MakeSubmission();
  submission.worker_command.front() = "/usr/bin/printf";
  submission.worker_command.insert(submission.worker_command.begin() + 1, "%s\n");
  // As Slurm runs it, but for Slurm.
  const auto printed = RunCommand(
      {"env", "SLURM_ARRAY_TASK_ID=1", "SLURM_ARRAY_JOB_ID=44", "sh"}, TaskScript(submission), 10);
  EXPECT_EQ(*printed,
            "--library\npostgresql://db/gaits?a=b&c=d\n--job\nj-9\n--owner\n"
            "slurm/gaitshelf-0123/44_1\n");
  EXPECT_THAT(TaskScript(MakeSubmission()), HasSubstr("'/opt/it'\\''s here/worker'"));
}

TEST(SlurmCommandsTest, ReadsWhatSlurmLists) {
  const auto tasks = ReadTasks("44|0|RUNNING|j-7 j-9\n44|1|PENDING|j-7 j-9\n51|0|FAILED|j-2\n");
  ASSERT_THAT(tasks, test::IsOk());
  ASSERT_EQ(tasks->size(), 3U);
  EXPECT_EQ(tasks->at(1).id, "44_1");
  EXPECT_EQ(tasks->at(1).job, "j-9");
  EXPECT_EQ(tasks->at(1).state, "PENDING");
  EXPECT_EQ(tasks->at(2).job, "j-2");
  EXPECT_TRUE(ReadTasks("")->empty());
  // An array that was cancelled as a whole, before Slurm made tasks of it.
  EXPECT_EQ(ReadTasks("4|N/A|CANCELLED|j-12\n44|0|RUNNING|j-7\n")->size(), 1U);
  for (const char* line : {"44|0|RUNNING", "44|N/A|RUNNING|j-7", "44|2|RUNNING|j-7 j-9"}) {
    EXPECT_THAT(ReadTasks(line), test::HasStatus(absl::StatusCode::kInternal, HasSubstr(line)));
  }
}

TEST(SlurmCommandsTest, KnowsWhatStatesMean) {
  for (const char* state : {"PENDING", "RUNNING", "COMPLETING", "SUSPENDED"}) {
    EXPECT_TRUE(IsSlurmTaskOpen(state)) << state;
    EXPECT_FALSE(IsSlurmTaskCrash(state)) << state;
  }
  EXPECT_TRUE(IsSlurmTaskWaiting("PENDING"));
  EXPECT_FALSE(IsSlurmTaskWaiting("RUNNING"));
  for (const char* state : {"NODE_FAIL", "CANCELLED", "PREEMPTED"}) {
    EXPECT_FALSE(IsSlurmTaskOpen(state)) << state;
    EXPECT_FALSE(IsSlurmTaskCrash(state)) << state;
  }
  for (const char* state : {"FAILED", "TIMEOUT", "OUT_OF_MEMORY", "COMPLETED"}) {
    EXPECT_TRUE(IsSlurmTaskCrash(state)) << state;
  }
}

}  // namespace
}  // namespace gaitshelf::service
