#include "service/jobs/worker_process.h"

#include <algorithm>
#include <csignal>
#include <fstream>
#include <iterator>
#include <string>

#include <gtest/gtest.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include "absl/strings/str_cat.h"
#include "tests/support/status_matchers.h"
#include "tests/support/temporary_folder.h"

namespace gaitshelf::service {
namespace {

const JobFence kNoJob;

int WaitFor(pid_t process) {
  int status = 0;
  EXPECT_EQ(waitpid(process, &status, 0), process);
  return status;
}

std::string ReadFile(const std::string& path) {
  std::ifstream file(path);
  return {std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
}

TEST(WorkerProcessTest, HandsArgumentsOverAsTheyAre) {
  const test::TemporaryFolder folder;
  const std::string out = folder.File("out");
  // The shell belongs to the test: the words after it must arrive untouched.
  const auto process = StartWorkerProcess(
      {"/bin/sh", "-c", "printf '%s|' \"$@\" > \"$0\"", out, "a b; $(touch /tmp/x) '\""},
      {.job = "j-7", .attempt = 3},
      0);
  ASSERT_THAT(process, test::IsOk());
  EXPECT_EQ(WaitFor(*process), 0);
  EXPECT_EQ(
      ReadFile(out),
      absl::StrCat("a b; $(touch /tmp/x) '\"|--job|j-7|--attempt|3|--parent|", getpid(), "|"));
}

TEST(WorkerProcessTest, InheritsNoFilesAndHasItsOwnGroup) {
  const test::TemporaryFolder folder;
  const std::string out = folder.File("out");
  int ends[2] = {};
  ASSERT_EQ(pipe(ends), 0);  // not close-on-exec
  const auto process =
      StartWorkerProcess({"/bin/sh",
                          "-c",
                          "ls /proc/$$/fd | tr '\\n' ' ' > \"$0\"; read x || echo empty >> \"$0\"",
                          out},
                         kNoJob,
                         0);
  ASSERT_THAT(process, test::IsOk());
  EXPECT_EQ(getpgid(*process), *process);
  WaitFor(*process);
  close(ends[0]);
  close(ends[1]);
  // The shell itself may hold one file of its own, 10 or above.
  EXPECT_THAT(ReadFile(out), testing::StartsWith("0 1 2 "));
  EXPECT_THAT(ReadFile(out), testing::Not(testing::HasSubstr(absl::StrCat(" ", ends[1], " "))));
  EXPECT_THAT(ReadFile(out), testing::EndsWith("empty\n"));
}

TEST(WorkerProcessTest, StandsBack) {
  const auto process = StartWorkerProcess({"/bin/sh", "-c", "sleep 10"}, kNoJob, 3);
  ASSERT_THAT(process, test::IsOk());
  constexpr int kGreatestNice = 19;
  EXPECT_EQ(getpriority(PRIO_PROCESS, static_cast<id_t>(*process)),
            std::min(getpriority(PRIO_PROCESS, 0) + 3, kGreatestNice));
  kill(*process, SIGKILL);
  WaitFor(*process);
}

TEST(WorkerProcessTest, SaysThatAProgramCannotBeStarted) {
  EXPECT_THAT(StartWorkerProcess({"/nowhere/worker"}, kNoJob, 0),
              test::HasStatus(absl::StatusCode::kInternal, testing::HasSubstr("/nowhere/worker")));
}

TEST(WorkerProcessTest, SaysHowAProcessEnded) {
  const auto exited = StartWorkerProcess({"/bin/sh", "-c", "exit 3"}, kNoJob, 0);
  const int exit_status = WaitFor(*exited);
  EXPECT_EQ(DescribeWaitStatus(exit_status), "ended with exit status 3");
  EXPECT_FALSE(IsStoppedExit(exit_status));
  const auto stopped = StartWorkerProcess({"/bin/sh", "-c", "exit 75"}, kNoJob, 0);
  EXPECT_TRUE(IsStoppedExit(WaitFor(*stopped)));
  const auto killed = StartWorkerProcess({"/bin/sh", "-c", "kill -9 $$"}, kNoJob, 0);
  const int kill_status = WaitFor(*killed);
  EXPECT_EQ(DescribeWaitStatus(kill_status), "ended by signal 9 (Killed)");
  EXPECT_FALSE(IsStoppedExit(kill_status));
}

}  // namespace
}  // namespace gaitshelf::service
