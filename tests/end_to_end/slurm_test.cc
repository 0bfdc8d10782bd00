// A sweep on a real Slurm cluster of two nodes: one node is killed and one job cancelled on the
// way.
//
// Covers service/jobs/slurm_dispatcher.cc
#include <csignal>
#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include <gtest/gtest.h>
#include <sys/types.h>

#include "tests/end_to_end/house.h"
#include "tests/support/find_process.h"
#include "tests/support/postgres_cluster.h"
#include "tests/support/slurm_cluster.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf {
namespace {

// Enough for a solve that lasts a second, so that it can be met in the middle.
constexpr int kManyKnots = 160;

class SlurmTest : public testing::Test {
 protected:
  explicit SlurmTest(std::vector<std::string> flags = {"--dispatch=slurm"})
      : house_(database_.address(), std::move(flags)) {}
  void SetUp() override {
    ASSERT_TRUE(cluster_.is_up());
    house_.StartServer();
    house_.PutDescriptions("weevil-lumped");
  }

  // The owner of a job that runs; empty for another.
  std::string OwnerOf(const std::string& name) {
    const auto running = house_.library()->ListRunningJobs();
    EXPECT_THAT(running, test::IsOk());
    for (const service::RunningJob& job : *running) {
      if (job.fence.job == name) {
        return job.owner;
      }
    }
    return "";
  }

  test::PostgresCluster database_;
  test::SlurmCluster cluster_;
  test::House house_;
};

// With room for one task.
class NarrowSlurmTest : public SlurmTest {
 protected:
  NarrowSlurmTest() : SlurmTest({"--dispatch=slurm", "--workers=1"}) {}
};

TEST_F(SlurmTest, ASweepOutlivesANodeAndLeavesOutWhatIsCancelled) {
  constexpr int kGaits = 12;  // cheap ones but for the first
  std::vector<std::string> jobs;
  for (int i = 0; i < kGaits; ++i) {
    jobs.push_back(house_.OrderAdvance(28.0 + i, 0.008, i == 0 ? kManyKnots : 0));
  }
  service::Library* const library = house_.library();
  // The first is held up where it stands, so that its node has work to lose.
  std::string owner;
  ASSERT_TRUE(test::House::Await([&] { return !(owner = OwnerOf(jobs.front())).empty(); }))
      << house_.ServerLog();
  const pid_t held = test::FindProcess(owner);
  ASSERT_GT(held, 1) << owner;
  ASSERT_EQ(kill(held, SIGSTOP), 0);
  // The owner ends in the task's number, as in 7_1.
  const std::string node = test::SlurmCluster::Output("squeue --noheader --format=%N --jobs=" +
                                                      owner.substr(owner.rfind('/') + 1));
  // The last one waits in Slurm still.
  EXPECT_EQ(house_.Cancel(jobs.back()).state(), v1::JOB_STATE_CANCELLED);
  const auto running_count = [&] {
    const auto running = library->ListRunningJobs();
    return running.ok() ? running->size() : std::size_t{0};
  };
  ASSERT_TRUE(test::House::Await([&] { return running_count() >= 2; })) << house_.ServerLog();
  const auto running = library->ListRunningJobs();
  ASSERT_THAT(running, test::IsOk());
  for (const service::RunningJob& job : *running) {
    EXPECT_EQ(job.owner.rfind("slurm/gaitshelf-", 0), 0U) << job.owner;
  }

  ASSERT_TRUE(cluster_.KillNode(node)) << node;

  for (const std::string& name : jobs) {
    ASSERT_TRUE(house_.AwaitEnd(name)) << house_.ServerLog();
    const v1::Job job = house_.GetJob(name);
    if (name == jobs.back()) {
      EXPECT_EQ(job.state(), v1::JOB_STATE_CANCELLED);
      EXPECT_EQ(job.attempt(), 0);
      continue;
    }
    EXPECT_EQ(job.state(), v1::JOB_STATE_DONE) << job.ShortDebugString();
    EXPECT_EQ(house_.GetGait(job.gait()).provenance().attempt(), job.attempt());
  }
  // What ran on the node was solved again, elsewhere, and the one held up learns that it is late.
  const v1::Job again = house_.GetJob(jobs.front());
  EXPECT_GE(again.attempt(), 2) << house_.ServerLog();
  ASSERT_EQ(kill(held, SIGCONT), 0);
  EXPECT_TRUE(test::House::Await([held] { return !test::House::IsAlive(held); }));
  EXPECT_EQ(house_.GetJob(jobs.front()).gait(), again.gait());
  EXPECT_THAT(library->CheckIntegrity(), test::IsOk());
  EXPECT_NE(house_.ServerLog().find("NODE_FAIL"), std::string::npos) << house_.ServerLog();
  EXPECT_EQ(house_.StopServer(), 0);
}

// A minute of silence counts as lost. Neither a worker that stands still nor its task, once that
// has ended, keeps the room.
TEST_F(NarrowSlurmTest, ASilentWorkerMakesRoomForItsJob) {
  const std::string job = house_.OrderAdvance(28.0, 0.009, kManyKnots);
  std::string owner;
  ASSERT_TRUE(test::House::Await([&] { return !(owner = OwnerOf(job)).empty(); }))
      << house_.ServerLog();
  const pid_t held = test::FindProcess(owner);
  ASSERT_GT(held, 1) << owner;
  ASSERT_EQ(kill(held, SIGSTOP), 0);
  ASSERT_TRUE(house_.AwaitEnd(job)) << house_.ServerLog();
  EXPECT_EQ(house_.GetJob(job).state(), v1::JOB_STATE_DONE) << house_.ServerLog();
  EXPECT_EQ(house_.GetJob(job).attempt(), 2);
  EXPECT_NE(house_.ServerLog().find("no sign of life"), std::string::npos) << house_.ServerLog();
  EXPECT_TRUE(test::House::Await([held] { return !test::House::IsAlive(held); }));
}

TEST_F(SlurmTest, ATaskThatIsToldToStopGivesItsJobBack) {
  const std::string job = house_.OrderAdvance(28.0, 0.009, kManyKnots);
  ASSERT_TRUE(test::House::Await([&] { return house_.GetJob(job).progress().iteration() > 0; }))
      << house_.ServerLog();
  // What Slurm sends before the limit of time.
  ASSERT_TRUE(
      test::SlurmCluster::Run("for task in $(squeue --noheader --format=%A); do scancel --batch "
                              "--signal=TERM $task; done"));
  ASSERT_TRUE(test::House::Await([&] { return house_.GetJob(job).attempt() == 2; }))
      << house_.ServerLog();
  ASSERT_TRUE(house_.AwaitEnd(job));
  EXPECT_EQ(house_.GetJob(job).state(), v1::JOB_STATE_DONE) << house_.ServerLog();
}

}  // namespace
}  // namespace gaitshelf
