// Contract tests: jobs as their users see them.
#ifndef GAITSHELF_TESTS_SERVICE_LIBRARY_JOBS_CONTRACT_H_
#define GAITSHELF_TESTS_SERVICE_LIBRARY_JOBS_CONTRACT_H_

#include <atomic>
#include <set>
#include <string>
#include <thread>
#include <vector>

#include "tests/service/library/library_contract.h"

namespace gaitshelf::service {

class JobsContract : public LibraryContract {};

TEST_P(JobsContract, QueuesAnOrder) {
  const auto ordered = library_->OrderJob(MakeJobOrder("key"));
  ASSERT_THAT(ordered, test::IsOk());
  EXPECT_FALSE(ordered->joined);
  Reopen();
  const auto job = library_->GetJob(ordered->job.name());
  ASSERT_THAT(job, test::IsOk());
  EXPECT_EQ(job->state(), v1::JOB_STATE_QUEUED);
  EXPECT_EQ(job->requester(), "bench");
  EXPECT_EQ(job->attempt(), 0);
  EXPECT_FALSE(job->has_progress());
  EXPECT_EQ(job->order().SerializeAsString(), MakeJobOrder("key").order.SerializeAsString());
  EXPECT_GT(job->create_time().seconds(), 1'000'000'000);
}

TEST_P(JobsContract, JoinsTheOpenJobOfAKey) {
  const auto first = library_->OrderJob(MakeJobOrder("key"));
  const auto second = library_->OrderJob(MakeJobOrder("key"));
  ASSERT_THAT(second, test::IsOk());
  EXPECT_TRUE(second->joined);
  EXPECT_EQ(second->job.name(), first->job.name());
  EXPECT_NE(library_->OrderJob(MakeJobOrder("another key"))->job.name(), first->job.name());
}

TEST_P(JobsContract, JoinsARunningJobAndStartsAnewAfterItsEnd) {
  const JobFence fence = StartJob(library_.get(), "key");
  EXPECT_EQ(library_->OrderJob(MakeJobOrder("key"))->job.name(), fence.job);
  ASSERT_THAT(library_->FinishJob(fence, {.state = v1::JOB_STATE_DONE, .gait = "g-1"}),
              test::IsOk());
  const auto anew = library_->OrderJob(MakeJobOrder("key"));
  ASSERT_THAT(anew, test::IsOk());
  EXPECT_FALSE(anew->joined);
  EXPECT_NE(anew->job.name(), fence.job);
}

TEST_P(JobsContract, MakesOneJobForManyOrdersAtATime) {
  constexpr int kThreads = 8;
  std::vector<std::string> names(kThreads);
  std::atomic<int> new_count{0};
  std::vector<std::thread> threads;
  for (int i = 0; i < kThreads; ++i) {
    threads.emplace_back([&, i] {
      const std::unique_ptr<Library> library = OpenSecond();
      const auto ordered = library->OrderJob(MakeJobOrder("key"));
      ASSERT_THAT(ordered, test::IsOk());
      names[static_cast<std::size_t>(i)] = ordered->job.name();
      new_count += ordered->joined ? 0 : 1;
    });
  }
  for (std::thread& thread : threads) {
    thread.join();
  }
  EXPECT_EQ(std::set<std::string>(names.begin(), names.end()).size(), 1U);
  EXPECT_EQ(new_count, 1);
}

TEST_P(JobsContract, NamesAJobThatIsNotThere) {
  for (const char* name : {"", "j-1", "j-", "1", "j-01", "j--1", "j-99999999999999999999"}) {
    EXPECT_THAT(library_->GetJob(name),
                test::HasStatus(absl::StatusCode::kNotFound, testing::HasSubstr(name)));
    EXPECT_TRUE(absl::IsNotFound(library_->RequestCancel(name, "ada").status()));
  }
}

TEST_P(JobsContract, CancelsAQueuedJobAtOnce) {
  const std::string name = library_->OrderJob(MakeJobOrder("key"))->job.name();
  const auto cancelled = library_->RequestCancel(name, "ada");
  ASSERT_THAT(cancelled, test::IsOk());
  EXPECT_EQ(cancelled->state(), v1::JOB_STATE_CANCELLED);
  EXPECT_FALSE(library_->ClaimNextJob("owner")->has_value());
  EXPECT_THAT(library_->RequestCancel(name, "ada"),
              test::HasStatus(absl::StatusCode::kFailedPrecondition,
                              testing::HasSubstr("JOB_STATE_CANCELLED")));
}

TEST_P(JobsContract, TellsTheWorkerOfACancelledRunningJob) {
  const JobFence fence = StartJob(library_.get(), "key");
  EXPECT_FALSE(*library_->IsCancelRequested(fence));
  const auto job = library_->RequestCancel(fence.job, "ada");
  ASSERT_THAT(job, test::IsOk());
  EXPECT_EQ(job->state(), v1::JOB_STATE_RUNNING);
  EXPECT_TRUE(*library_->IsCancelRequested(fence));
  EXPECT_TRUE(library_->ListRunningJobs()->at(0).is_cancel_requested);
  // The wish may be repeated, and an order does not join a job that is about to go.
  EXPECT_THAT(library_->RequestCancel(fence.job, "ada"), test::IsOk());
  EXPECT_FALSE(library_->OrderJob(MakeJobOrder("key"))->joined);
}

TEST_P(JobsContract, ListsNewestFirstPageByPage) {
  const JobFence first = StartJob(library_.get(), "key 1");
  ASSERT_THAT(library_->OrderJob(MakeJobOrder("key 2")), test::IsOk());
  ASSERT_THAT(library_->OrderJob(MakeJobOrder("key 3")), test::IsOk());
  ASSERT_THAT(library_->FinishJob(first, {.state = v1::JOB_STATE_DONE}), test::IsOk());
  const auto page = library_->ListJobs(false, {.page_size = 2});
  ASSERT_THAT(page, test::IsOk());
  ASSERT_EQ(page->jobs.size(), 2U);
  EXPECT_EQ(page->jobs[0].name(), "j-3");
  const auto rest = library_->ListJobs(false, {.page_token = page->next_page_token});
  ASSERT_EQ(rest->jobs.size(), 1U);
  EXPECT_EQ(rest->jobs[0].name(), first.job);
  EXPECT_EQ(rest->next_page_token, "");
  EXPECT_EQ(library_->ListJobs(true, {})->jobs.size(), 2U);
  EXPECT_TRUE(absl::IsInvalidArgument(library_->ListJobs(false, {.page_token = "x"}).status()));
}

}  // namespace gaitshelf::service

#endif  // GAITSHELF_TESTS_SERVICE_LIBRARY_JOBS_CONTRACT_H_
