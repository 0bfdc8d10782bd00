#include "service/jobs/process_identity.h"

#include <csignal>
#include <string>
#include <vector>

#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "absl/strings/str_split.h"

namespace gaitshelf::service {
namespace {

std::vector<std::string> PartsOfThisProcess() { return absl::StrSplit(IdentifyThisProcess(), '/'); }

TEST(ProcessIdentityTest, ThisProcessLives) {
  EXPECT_EQ(PartsOfThisProcess().size(), 4U);
  EXPECT_EQ(LookUpProcess(IdentifyThisProcess()), ProcessLife::kAlive);
}

TEST(ProcessIdentityTest, ALaterProcessOfTheSameNumberIsNotTakenForIt) {
  std::vector<std::string> parts = PartsOfThisProcess();
  parts[3] += "0";
  EXPECT_EQ(LookUpProcess(absl::StrJoin(parts, "/")), ProcessLife::kDead);
}

TEST(ProcessIdentityTest, NoProcessOutlivesABoot) {
  std::vector<std::string> parts = PartsOfThisProcess();
  parts[1] = "another boot";
  EXPECT_EQ(LookUpProcess(absl::StrJoin(parts, "/")), ProcessLife::kDead);
}

TEST(ProcessIdentityTest, NothingIsKnownOfOtherHosts) {
  std::vector<std::string> parts = PartsOfThisProcess();
  parts[0] = "another-host";
  EXPECT_EQ(LookUpProcess(absl::StrJoin(parts, "/")), ProcessLife::kUnknown);
  EXPECT_EQ(LookUpProcess(""), ProcessLife::kUnknown);
  EXPECT_EQ(LookUpProcess("gibberish"), ProcessLife::kUnknown);
}

TEST(ProcessIdentityTest, AKilledProcessIsDeadBeforeAndAfterItIsReaped) {
  int ends[2] = {};
  ASSERT_EQ(pipe(ends), 0);
  const pid_t child = fork();
  if (child == 0) {
    const std::string identity = IdentifyThisProcess();
    const ssize_t written = write(ends[1], identity.data(), identity.size());
    pause();
    _exit(written > 0 ? 0 : 1);
  }
  char buffer[512] = {};
  const ssize_t size = read(ends[0], buffer, sizeof(buffer));
  ASSERT_GT(size, 0);
  const std::string identity(buffer, static_cast<std::size_t>(size));
  EXPECT_EQ(LookUpProcess(identity), ProcessLife::kAlive);
  kill(child, SIGKILL);
  siginfo_t info = {};
  waitid(P_PID, static_cast<id_t>(child), &info, WEXITED | WNOWAIT);
  EXPECT_EQ(LookUpProcess(identity), ProcessLife::kDead);
  waitpid(child, nullptr, 0);
  EXPECT_EQ(LookUpProcess(identity), ProcessLife::kDead);
  close(ends[0]);
  close(ends[1]);
}

}  // namespace
}  // namespace gaitshelf::service
