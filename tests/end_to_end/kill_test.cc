// Kills the real server and the real worker in the middle of real solves: nothing that was accepted
// may be lost, and every job must come to its end.
#include <csignal>
#include <string>
#include <vector>

#include <gtest/gtest.h>

#include "tests/end_to_end/house.h"
#include "tests/support/paths.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf {
namespace {

// Enough knots for a solve that lasts some seconds, so that it can be met in the middle. Sanitizers
// make it last long enough with fewer.
int ManyKnots() { return test::IsSanitized() ? 0 : 160; }

class KillTest : public testing::Test {
 protected:
  void SetUp() override {
    house_.StartServer();
    house_.PutDescriptions();
  }
  void TearDown() override {
    if (HasFailure()) {
      std::fprintf(stderr, "%s", house_.ServerLog().c_str());
    }
    EXPECT_THAT(house_.library()->CheckIntegrity(), test::IsOk());
  }

  // Waits until an attempt runs, has left a checkpoint behind and is not at its end yet; returns
  // the checkpoint.
  v1::PlanCheckpoint AwaitCheckpoint(const std::string& job, int attempt) {
    v1::PlanCheckpoint checkpoint;
    EXPECT_TRUE(test::House::Await([&] {
      const auto found = house_.library()->GetAttempt({.job = job, .attempt = attempt});
      if (!found.ok() || !found->checkpoint.has_value() || house_.Workers().empty()) {
        return false;
      }
      checkpoint = *found->checkpoint;
      return true;
    }));
    return checkpoint;
  }
  void ExpectGoodGait(const v1::Job& job) {
    EXPECT_EQ(job.state(), v1::JOB_STATE_DONE) << job.ShortDebugString();
    const v1::Gait gait = house_.GetGait(job.gait());
    EXPECT_EQ(gait.audit().verdict(), v1::VERDICT_GOOD);
    EXPECT_EQ(gait.provenance().job(), job.name());
    EXPECT_EQ(gait.provenance().attempt(), job.attempt());
    EXPECT_EQ(house_.FindGait(job.order()).name(), gait.name());
  }

  test::House house_;
};

TEST_F(KillTest, AJobOutlivesItsWorker) {
  const std::string job = house_.OrderAdvance(12.0, 0.009, ManyKnots());
  AwaitCheckpoint(job, 1);
  const std::vector<pid_t> workers = house_.Workers();
  ASSERT_EQ(workers.size(), 1U);
  ASSERT_EQ(kill(workers[0], SIGKILL), 0);
  ASSERT_TRUE(house_.AwaitEnd(job));
  EXPECT_EQ(house_.GetJob(job).attempt(), 2);
  ExpectGoodGait(house_.GetJob(job));
}

TEST_F(KillTest, AJobOutlivesSeveralWorkers) {
  const std::string job = house_.OrderAdvance(12.0, 0.009, ManyKnots());
  // The first is met in its solve, the others as soon as they are there.
  constexpr int kKills = 3;
  for (int attempt = 1; attempt <= kKills; ++attempt) {
    AwaitCheckpoint(job, attempt);
    const std::vector<pid_t> workers = house_.Workers();
    ASSERT_EQ(workers.size(), 1U);
    ASSERT_EQ(kill(workers[0], SIGKILL), 0);
  }
  ASSERT_TRUE(house_.AwaitEnd(job));
  EXPECT_EQ(house_.GetJob(job).attempt(), kKills + 1);
  ExpectGoodGait(house_.GetJob(job));
}

TEST_F(KillTest, GaitsAndJobsOutliveTheServer) {
  const std::string finished = house_.OrderAdvance(28.0, 0.009, 0);
  ASSERT_TRUE(house_.AwaitEnd(finished));
  const v1::Job finished_job = house_.GetJob(finished);
  ExpectGoodGait(finished_job);
  const std::string gait_bytes = house_.GetGait(finished_job.gait()).SerializeAsString();

  const std::string running = house_.OrderAdvance(12.0, 0.009, ManyKnots());
  const std::string queued = house_.OrderAdvance(28.0, 0.008, 0);
  const v1::PlanCheckpoint checkpoint = AwaitCheckpoint(running, 1);
  const std::vector<pid_t> workers = house_.Workers();
  ASSERT_EQ(workers.size(), 1U);
  house_.KillServer();
  EXPECT_TRUE(test::House::Await([&] { return !test::House::IsAlive(workers[0]); }));

  house_.StartServer();
  EXPECT_EQ(house_.GetGait(finished_job.gait()).SerializeAsString(), gait_bytes);
  EXPECT_EQ(house_.GetJob(finished).SerializeAsString(), finished_job.SerializeAsString());
  ASSERT_TRUE(house_.AwaitEnd(running));
  const v1::Job running_job = house_.GetJob(running);
  EXPECT_EQ(running_job.attempt(), 2);
  ExpectGoodGait(running_job);
  // It went on: its iterations include those before the kill.
  EXPECT_GT(house_.GetGait(running_job.gait()).report().iteration_count(),
            checkpoint.iteration_count());
  ASSERT_TRUE(house_.AwaitEnd(queued));
  EXPECT_EQ(house_.GetJob(queued).attempt(), 1);
  ExpectGoodGait(house_.GetJob(queued));
}

TEST_F(KillTest, GoesOnFromTheCheckpointAfterTheServerWasKilled) {
  const std::string job = house_.OrderAdvance(12.0, 0.009, ManyKnots());
  const v1::PlanCheckpoint checkpoint = AwaitCheckpoint(job, 1);
  ASSERT_GT(checkpoint.iteration_count(), 1);
  house_.KillServer();
  house_.StartServer();
  ASSERT_TRUE(test::House::Await([&] { return house_.GetJob(job).attempt() == 2; }));
  // From the first word of the second attempt on, the count stands above the checkpoint's; a solve
  // from the start would begin at 1.
  bool has_seen_progress = false;
  ASSERT_TRUE(test::House::Await([&] {
    const v1::Job now = house_.GetJob(job);
    if (now.state() != v1::JOB_STATE_RUNNING) {
      return true;
    }
    if (now.progress().phase() == v1::PLAN_PHASE_PLANNING ||
        now.progress().phase() == v1::PLAN_PHASE_REFINING) {
      has_seen_progress = true;
      EXPECT_GE(now.progress().iteration(), checkpoint.iteration_count());
    }
    return false;
  }));
  EXPECT_TRUE(has_seen_progress);
  ExpectGoodGait(house_.GetJob(job));
}

TEST_F(KillTest, APoliteStopGivesTheJobBackAtOnce) {
  const std::string job = house_.OrderAdvance(12.0, 0.009, ManyKnots());
  AwaitCheckpoint(job, 1);
  EXPECT_EQ(house_.StopServer(), 0);
  const auto left = house_.library()->GetJob(job);
  ASSERT_THAT(left, test::IsOk());
  EXPECT_EQ(left->state(), v1::JOB_STATE_QUEUED);
  house_.StartServer();
  ASSERT_TRUE(house_.AwaitEnd(job));
  EXPECT_EQ(house_.GetJob(job).attempt(), 2);
  ExpectGoodGait(house_.GetJob(job));
}

}  // namespace
}  // namespace gaitshelf
