// A sweep on a real Slurm cluster of two nodes: one node is killed and one job cancelled on the
// way.
//
// Covers service/jobs/slurm_dispatcher.cc
#include <cstddef>
#include <string>
#include <vector>

#include <gtest/gtest.h>

#include "tests/end_to_end/house.h"
#include "tests/support/postgres_cluster.h"
#include "tests/support/slurm_cluster.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf {
namespace {

// Enough for a solve that lasts some seconds, so that it can be met in the middle.
constexpr int kManyKnots = 160;

class SlurmTest : public testing::Test {
 protected:
  void SetUp() override {
    ASSERT_TRUE(cluster_.is_up());
    house_.StartServer();
    house_.PutDescriptions("weevil-lumped");
  }

  test::PostgresCluster database_;
  test::SlurmCluster cluster_;
  test::House house_{database_.address(), {"--dispatch=slurm"}};
};

TEST_F(SlurmTest, ASweepOutlivesANodeAndLeavesOutWhatIsCancelled) {
  constexpr int kGaits = 12;  // cheap ones
  std::vector<std::string> jobs;
  for (int i = 0; i < kGaits; ++i) {
    jobs.push_back(house_.OrderAdvance(28.0 + i, 0.008, 0));
  }
  service::Library* const library = house_.library();
  const auto node_count = [&] {
    const auto running = library->ListRunningJobs();
    return running.ok() ? running->size() : std::size_t{0};
  };
  // Both nodes are at work: each has two places.
  ASSERT_TRUE(test::House::Await([&] { return node_count() >= 3; })) << house_.ServerLog();
  const auto running = library->ListRunningJobs();
  ASSERT_THAT(running, test::IsOk());
  for (const service::RunningJob& job : *running) {
    EXPECT_EQ(job.owner.rfind("slurm/gaitshelf-", 0), 0U) << job.owner;
  }

  // The last one waits in Slurm still.
  EXPECT_EQ(house_.Cancel(jobs.back()).state(), v1::JOB_STATE_CANCELLED);
  ASSERT_TRUE(cluster_.KillNode("n1"));

  int second_attempts = 0;
  for (const std::string& name : jobs) {
    ASSERT_TRUE(house_.AwaitEnd(name)) << house_.ServerLog();
    const v1::Job job = house_.GetJob(name);
    if (name == jobs.back()) {
      EXPECT_EQ(job.state(), v1::JOB_STATE_CANCELLED);
      EXPECT_EQ(job.attempt(), 0);
      continue;
    }
    EXPECT_EQ(job.state(), v1::JOB_STATE_DONE) << job.ShortDebugString();
    second_attempts += job.attempt() > 1 ? 1 : 0;
    EXPECT_EQ(house_.GetGait(job.gait()).provenance().attempt(), job.attempt());
  }
  // What ran on the node was solved again, elsewhere.
  EXPECT_GE(second_attempts, 1) << house_.ServerLog();
  EXPECT_THAT(library->CheckIntegrity(), test::IsOk());
  EXPECT_NE(house_.ServerLog().find("NODE_FAIL"), std::string::npos) << house_.ServerLog();
  EXPECT_EQ(house_.StopServer(), 0);
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
