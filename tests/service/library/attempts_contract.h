// Contract tests: jobs as dispatcher and worker see them.
#ifndef GAITSHELF_TESTS_SERVICE_LIBRARY_ATTEMPTS_CONTRACT_H_
#define GAITSHELF_TESTS_SERVICE_LIBRARY_ATTEMPTS_CONTRACT_H_

#include "tests/service/library/library_contract.h"

namespace gaitshelf::service {

class AttemptsContract : public LibraryContract {
 protected:
  static v1::PlanCheckpoint MakeCheckpoint(int round) {
    v1::PlanCheckpoint checkpoint;
    checkpoint.set_round(round);
    checkpoint.add_unknown_ratio(0.25);
    return checkpoint;
  }
};

TEST_P(AttemptsContract, ClaimsTheOldestJobWithAllThatAWorkerNeeds) {
  ASSERT_THAT(library_->OrderJob(MakeJobOrder("key 1")), test::IsOk());
  ASSERT_THAT(library_->OrderJob(MakeJobOrder("key 2")), test::IsOk());
  const auto claim = library_->ClaimNextJob("owner");
  ASSERT_THAT(claim, test::IsOk());
  ASSERT_TRUE(claim->has_value());
  EXPECT_EQ((*claim)->key, "key 1");
  EXPECT_EQ((*claim)->robot_digest, "robot-digest-1");
  EXPECT_EQ((*claim)->surface_digest, "surface-digest-1");
  EXPECT_EQ((*claim)->job.state(), v1::JOB_STATE_RUNNING);
  EXPECT_EQ((*claim)->job.attempt(), 1);
  EXPECT_FALSE((*claim)->checkpoint.has_value());
  const auto running = library_->ListRunningJobs();
  ASSERT_THAT(running, test::IsOk());
  ASSERT_EQ(running->size(), 1U);
  EXPECT_EQ(running->at(0).owner, "owner");
  EXPECT_GT(running->at(0).heartbeat_us, 0);
  EXPECT_EQ((*library_->ClaimNextJob("owner"))->key, "key 2");
  EXPECT_FALSE(library_->ClaimNextJob("owner")->has_value());
}

TEST_P(AttemptsContract, KeepsTheFurtherSurfacesOfAnOrder) {
  JobOrder order = MakeJobOrder("key");
  order.also_on = {MakeSurfaceVersion("felt", "felt-1"), MakeSurfaceVersion("tape", "tape-3")};
  ASSERT_THAT(library_->OrderJob(order), test::IsOk());
  ASSERT_THAT(library_->OrderJob(MakeJobOrder("key of one surface")), test::IsOk());
  for (const std::size_t count : {2U, 0U}) {
    const auto claim = library_->ClaimNextJob("owner");
    ASSERT_TRUE(claim.ok() && claim->has_value());
    const auto attempt = library_->GetAttempt(FenceOf((*claim)->job));
    ASSERT_THAT(attempt, test::IsOk());
    ASSERT_EQ(attempt->also_on.size(), count);
    if (count > 0) {
      EXPECT_EQ(attempt->also_on[0].surface(), "felt");
      EXPECT_EQ(attempt->also_on[0].digest(), "felt-1");
      EXPECT_EQ(attempt->also_on[1].digest(), "tape-3");
    }
  }
}

TEST_P(AttemptsContract, ListsTheQueueAndClaimsACertainJob) {
  for (const char* key : {"key 1", "key 2", "key 3"}) {
    ASSERT_THAT(library_->OrderJob(MakeJobOrder(key)), test::IsOk());
  }
  const auto queued = library_->ListQueuedJobs(2);
  ASSERT_THAT(queued, test::IsOk());
  ASSERT_EQ(queued->size(), 2U);
  EXPECT_EQ(library_->GetJob(queued->at(0))->order().robot(), "weevil");
  const auto attempt = library_->ClaimJob(queued->at(1), "node");
  ASSERT_THAT(attempt, test::IsOk());
  EXPECT_EQ(attempt->key, "key 2");
  EXPECT_EQ(attempt->job.attempt(), 1);
  EXPECT_EQ(library_->ListRunningJobs()->at(0).owner, "node");
  // A second copy of the same worker gets nothing.
  EXPECT_THAT(library_->ClaimJob(queued->at(1), "node"),
              test::HasStatus(absl::StatusCode::kAborted, testing::HasSubstr("RUNNING")));
  EXPECT_EQ((*library_->ListQueuedJobs(9)).size(), 2U);
  ASSERT_THAT(library_->FinishJob(FenceOf(attempt->job), {.state = v1::JOB_STATE_DONE}),
              test::IsOk());
  EXPECT_TRUE(absl::IsAborted(library_->ClaimJob(queued->at(1), "node").status()));
  EXPECT_TRUE(absl::IsNotFound(library_->ClaimJob("j-77", "node").status()));
}

TEST_P(AttemptsContract, KeepsProgressAndCheckpoint) {
  const JobFence fence = StartJob(library_.get(), "key");
  v1::PlanProgress progress;
  progress.set_iteration(17);
  ASSERT_THAT(library_->WriteProgress(fence, progress), test::IsOk());
  ASSERT_THAT(library_->WriteCheckpoint(fence, MakeCheckpoint(1)), test::IsOk());
  ASSERT_THAT(library_->WriteCheckpoint(fence, MakeCheckpoint(2)), test::IsOk());
  Reopen();
  EXPECT_EQ(library_->GetJob(fence.job)->progress().iteration(), 17);
  const auto attempt = library_->GetAttempt(fence);
  ASSERT_THAT(attempt, test::IsOk());
  ASSERT_TRUE(attempt->checkpoint.has_value());
  EXPECT_EQ(attempt->checkpoint->SerializeAsString(), MakeCheckpoint(2).SerializeAsString());
}

TEST_P(AttemptsContract, MovesTheHeartbeatOn) {
  const JobFence fence = StartJob(library_.get(), "key");
  std::int64_t last_us = library_->ListRunningJobs()->at(0).heartbeat_us;
  const auto has_moved_on = [&] {
    const std::int64_t now_us = library_->ListRunningJobs()->at(0).heartbeat_us;
    const bool result = now_us > last_us;
    last_us = now_us;
    return result;
  };
  ASSERT_THAT(library_->WriteHeartbeat(fence), test::IsOk());
  EXPECT_TRUE(has_moved_on());
  ASSERT_THAT(library_->WriteProgress(fence, {}), test::IsOk());
  EXPECT_TRUE(has_moved_on());
  ASSERT_THAT(library_->WriteCheckpoint(fence, MakeCheckpoint(1)), test::IsOk());
  EXPECT_TRUE(has_moved_on());
}

TEST_P(AttemptsContract, EndsAJobWithGaitAndReason) {
  const JobFence fence = StartJob(library_.get(), "key");
  const auto job = library_->FinishJob(
      fence,
      {.state = v1::JOB_STATE_FAILED, .failure_reason = "beyond the reach", .gait = "g-partial"});
  ASSERT_THAT(job, test::IsOk());
  EXPECT_EQ(job->state(), v1::JOB_STATE_FAILED);
  Reopen();
  EXPECT_EQ(library_->GetJob(fence.job)->failure_reason(), "beyond the reach");
  EXPECT_EQ(library_->GetJob(fence.job)->gait(), "g-partial");
  EXPECT_TRUE(library_->ListRunningJobs()->empty());
}

TEST_P(AttemptsContract, RefusesEndsThatAreNone) {
  const JobFence fence = StartJob(library_.get(), "key");
  for (const v1::JobState state : {v1::JOB_STATE_UNSPECIFIED,
                                   v1::JOB_STATE_QUEUED,
                                   v1::JOB_STATE_RUNNING,
                                   v1::JOB_STATE_FAILED}) {
    EXPECT_THAT(
        library_->FinishJob(fence, {.state = state}),
        test::HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("JOB_STATE")));
  }
  EXPECT_EQ(library_->GetJob(fence.job)->state(), v1::JOB_STATE_RUNNING);
}

// Every write of the attempt must be refused and change nothing.
inline void ExpectFenced(Library* library, const JobFence& fence) {
  const std::string before = library->GetJob(fence.job)->SerializeAsString();
  const auto is_refused =
      test::HasStatus(absl::StatusCode::kAborted, testing::HasSubstr(fence.job));
  EXPECT_THAT(library->WriteHeartbeat(fence), is_refused);
  EXPECT_THAT(library->WriteProgress(fence, {}), is_refused);
  EXPECT_THAT(library->WriteCheckpoint(fence, {}), is_refused);
  EXPECT_THAT(library->IsCancelRequested(fence), is_refused);
  EXPECT_THAT(library->GetAttempt(fence), is_refused);
  EXPECT_THAT(library->FinishJob(fence, {.state = v1::JOB_STATE_DONE}), is_refused);
  EXPECT_THAT(library->RequeueLostJob(fence, {.reason = "crash"}), is_refused);
  EXPECT_EQ(library->GetJob(fence.job)->SerializeAsString(), before);
}

TEST_P(AttemptsContract, RefusesEveryWriteOfAStaleAttempt) {
  const JobFence old = StartJob(library_.get(), "key");
  ASSERT_THAT(library_->RequeueLostJob(old, {.reason = "crash"}), test::IsOk());
  ExpectFenced(library_.get(), old);  // while it is queued
  const auto claim = library_->ClaimNextJob("owner");
  ASSERT_TRUE(claim.ok() && claim->has_value());
  const JobFence present = FenceOf((*claim)->job);
  EXPECT_EQ(present.attempt, 2);
  ExpectFenced(library_.get(), old);  // while the next attempt runs
  EXPECT_THAT(library_->WriteProgress(present, {}), test::IsOk());
  ASSERT_THAT(library_->FinishJob(present, {.state = v1::JOB_STATE_DONE}), test::IsOk());
  ExpectFenced(library_.get(), old);
  ExpectFenced(library_.get(), present);  // after its end
}

TEST_P(AttemptsContract, NamesTheJobOfAFenceThatIsNotThere) {
  EXPECT_THAT(library_->WriteProgress({.job = "j-7", .attempt = 1}, {}),
              test::HasStatus(absl::StatusCode::kNotFound, testing::HasSubstr("j-7")));
}

TEST_P(AttemptsContract, GoesOnFromTheCheckpointAfterACrash) {
  const JobFence first = StartJob(library_.get(), "key");
  ASSERT_THAT(library_->WriteCheckpoint(first, MakeCheckpoint(3)), test::IsOk());
  const auto back = library_->RequeueLostJob(first, {.reason = "signal 9"});
  ASSERT_THAT(back, test::IsOk());
  EXPECT_EQ(back->state(), v1::JOB_STATE_QUEUED);
  Reopen();
  const auto claim = library_->ClaimNextJob("owner");
  ASSERT_TRUE(claim.ok() && claim->has_value());
  EXPECT_EQ((*claim)->job.attempt(), 2);
  ASSERT_TRUE((*claim)->checkpoint.has_value());
  EXPECT_EQ((*claim)->checkpoint->round(), 3);
}

TEST_P(AttemptsContract, FailsAJobAfterTooManyCrashes) {
  Reopen({.crash_limit = 3});
  ASSERT_THAT(library_->OrderJob(MakeJobOrder("key")), test::IsOk());
  v1::Job job;
  for (int attempt = 1; attempt <= 3; ++attempt) {
    const auto claim = library_->ClaimNextJob("owner");
    ASSERT_TRUE(claim.ok() && claim->has_value());
    job = *library_->RequeueLostJob(FenceOf((*claim)->job), {.reason = "signal 11"});
    EXPECT_EQ(job.state(), attempt < 3 ? v1::JOB_STATE_QUEUED : v1::JOB_STATE_FAILED);
  }
  EXPECT_EQ(job.failure_reason(), "the worker was lost 3 times, the last time: signal 11");
  EXPECT_FALSE(library_->ClaimNextJob("owner")->has_value());
}

TEST_P(AttemptsContract, AStopOfTheServerIsNoCrash) {
  Reopen({.crash_limit = 1});
  const JobFence fence = StartJob(library_.get(), "key");
  const auto back = library_->RequeueLostJob(fence, {.reason = "stopped", .is_crash = false});
  ASSERT_THAT(back, test::IsOk());
  EXPECT_EQ(back->state(), v1::JOB_STATE_QUEUED);
}

TEST_P(AttemptsContract, ALostJobThatWasToBeCancelledIsCancelled) {
  const JobFence fence = StartJob(library_.get(), "key");
  ASSERT_THAT(library_->RequestCancel(fence.job, "ada"), test::IsOk());
  // A new order of the same key may already wait.
  ASSERT_THAT(library_->OrderJob(MakeJobOrder("key")), test::IsOk());
  const auto back = library_->RequeueLostJob(fence, {.reason = "signal 9"});
  ASSERT_THAT(back, test::IsOk());
  EXPECT_EQ(back->state(), v1::JOB_STATE_CANCELLED);
}

}  // namespace gaitshelf::service

#endif  // GAITSHELF_TESTS_SERVICE_LIBRARY_ATTEMPTS_CONTRACT_H_
