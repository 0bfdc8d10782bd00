// Contract tests: how many jobs the queue takes, and whose is due.
#ifndef GAITSHELF_TESTS_SERVICE_LIBRARY_QUEUE_CONTRACT_H_
#define GAITSHELF_TESTS_SERVICE_LIBRARY_QUEUE_CONTRACT_H_

#include <functional>
#include <string>
#include <vector>

#include "tests/service/library/library_contract.h"

namespace gaitshelf::service {

class QueueContract : public LibraryContract {
 protected:
  // Orders what nobody has ordered before; the job is named in the tests by requester and number.
  absl::StatusOr<OrderedJob> Order(const std::string& requester, int number) {
    JobOrder order = MakeJobOrder(absl::StrCat(requester, " ", number));
    order.requester = requester;
    return library_->OrderJob(order);
  }
  void OrderMany(const std::string& requester, int count) {
    for (int i = 1; i <= count; ++i) {
      ASSERT_THAT(Order(requester, i), test::IsOk());
    }
  }
  absl::Status Cancel(const std::string& requester, int number) {
    const auto ordered = Order(requester, number);
    return ordered.ok() ? library_->RequestCancel(ordered->job.name(), requester).status()
                        : ordered.status();
  }
  // Starts the next jobs, which go on running.
  std::vector<std::string> Claim(int count) {
    return Take(count, [](const v1::Job&) {});
  }
  // Runs the next jobs one after the other, as a server with a single worker does.
  std::vector<std::string> Run(int count) {
    return Take(count, [this](const v1::Job& job) {
      EXPECT_THAT(library_->FinishJob(FenceOf(job), {.state = v1::JOB_STATE_DONE}), test::IsOk());
    });
  }

 private:
  std::vector<std::string> Take(int count, const std::function<void(const v1::Job&)>& then) {
    std::vector<std::string> keys;
    for (int i = 0; i < count; ++i) {
      const auto claim = library_->ClaimNextJob("owner");
      if (!claim.ok() || !claim->has_value()) {
        break;
      }
      keys.push_back((*claim)->key);
      then((*claim)->job);
    }
    return keys;
  }
};

TEST_P(QueueContract, RefusesOrdersBeyondTheQueueLimit) {
  Reopen({.queue_limit = 2, .jobs_per_member = 2});
  const JobFence fence = StartJob(library_.get(), "key 1");
  ASSERT_THAT(library_->OrderJob(MakeJobOrder("key 2")), test::IsOk());
  const auto refused = Order("ada", 1);
  EXPECT_THAT(refused,
              test::HasStatus(absl::StatusCode::kResourceExhausted,
                              testing::AllOf(testing::HasSubstr("2 jobs wait or run"),
                                             testing::HasSubstr("--queue-limit"))));
  EXPECT_EQ(refused.status().GetPayload(kLimitPayload), "QUEUE_FULL");
  EXPECT_TRUE(library_->OrderJob(MakeJobOrder("key 2"))->joined);
  ASSERT_THAT(library_->FinishJob(fence, {.state = v1::JOB_STATE_DONE}), test::IsOk());
  EXPECT_THAT(Order("ada", 1), test::IsOk());
}

TEST_P(QueueContract, RefusesOneMemberBeyondHisOwnLimit) {
  Reopen({.queue_limit = 100, .jobs_per_member = 2});
  OrderMany("ada", 2);
  ASSERT_THAT(Claim(1), testing::ElementsAre("ada 1"));  // what runs counts as well
  const auto refused = Order("ada", 3);
  EXPECT_THAT(refused,
              test::HasStatus(absl::StatusCode::kResourceExhausted,
                              testing::AllOf(testing::HasSubstr("ada has 2 jobs"),
                                             testing::HasSubstr("may have 2 (--jobs-per-member)"),
                                             testing::HasSubstr("cancel some"))));
  EXPECT_EQ(refused.status().GetPayload(kLimitPayload), "TOO_MANY_JOBS");
  EXPECT_THAT(Order("ben", 1), test::IsOk());
  // An order that joins a job takes no room, whoever ordered it first.
  JobOrder same = MakeJobOrder("ben 1");
  same.requester = "ada";
  EXPECT_TRUE(library_->OrderJob(same)->joined);
  ASSERT_THAT(Cancel("ada", 2), test::IsOk());
  EXPECT_THAT(Order("ada", 3), test::IsOk());
}

TEST_P(QueueContract, LeavesHalfOfTheQueueToOthersUnlessToldOtherwise) {
  Reopen({.queue_limit = 5});
  OrderMany("ada", 3);
  EXPECT_TRUE(absl::IsResourceExhausted(Order("ada", 4).status()));
  OrderMany("ben", 2);
  Reopen({.queue_limit = 1});
  Run(5);
  EXPECT_THAT(Order("ada", 5), test::IsOk());
}

TEST_P(QueueContract, CallersWithoutANameCountAsOne) {
  Reopen({.queue_limit = 100, .jobs_per_member = 1});
  OrderMany("", 1);
  EXPECT_THAT(Order("", 2),
              test::HasStatus(absl::StatusCode::kResourceExhausted,
                              testing::HasSubstr("callers without a name have 1 jobs")));
}

// Jobs of about one size in turns by member: what RFC 970 (Nagle, 1985; from memory) proposes for
// packets in the place of a single queue.
TEST_P(QueueContract, MembersTakeTurns) {
  OrderMany("ada", 5);
  OrderMany("ben", 2);
  OrderMany("eve", 3);
  EXPECT_THAT(Run(10),
              testing::ElementsAre("ada 1",
                                   "ben 1",
                                   "eve 1",
                                   "ada 2",
                                   "ben 2",
                                   "eve 2",
                                   "ada 3",
                                   "eve 3",
                                   "ada 4",
                                   "ada 5"));
}

TEST_P(QueueContract, OneJobDoesNotWaitForAHundred) {
  OrderMany("ada", 100);
  Run(40);
  ASSERT_THAT(Claim(2), testing::ElementsAre("ada 41", "ada 42"));
  OrderMany("ben", 1);
  EXPECT_THAT(Claim(2), testing::ElementsAre("ben 1", "ada 43"));
}

TEST_P(QueueContract, ALatecomerHasNoTurnsInHand) {
  OrderMany("ada", 20);
  Run(10);
  OrderMany("ben", 3);
  EXPECT_THAT(Run(6),
              testing::ElementsAre("ada 11", "ben 1", "ada 12", "ben 2", "ada 13", "ben 3"));
}

TEST_P(QueueContract, CancelledJobsTakeNoTurns) {
  OrderMany("ada", 6);
  OrderMany("ben", 3);
  for (const int number : {2, 1, 4, 3}) {
    ASSERT_THAT(Cancel("ada", number), test::IsOk());
  }
  EXPECT_THAT(Run(5), testing::ElementsAre("ada 5", "ben 1", "ada 6", "ben 2", "ben 3"));
}

TEST_P(QueueContract, ListsJobsInTheOrderInWhichTheyAreDue) {
  OrderMany("ada", 3);
  OrderMany("ben", 1);
  const auto names = library_->ListQueuedJobs(9);
  ASSERT_THAT(names, test::IsOk());
  std::vector<std::string> requesters;
  for (const std::string& name : *names) {
    requesters.push_back(library_->GetJob(name)->requester());
  }
  EXPECT_THAT(requesters, testing::ElementsAre("ada", "ben", "ada", "ada"));
}

TEST_P(QueueContract, AJobThatCrashesDoesNotHoldUpTheOthers) {
  const JobFence first = StartJob(library_.get(), "key 1");
  ASSERT_THAT(library_->OrderJob(MakeJobOrder("key 2")), test::IsOk());
  ASSERT_THAT(library_->RequeueLostJob(first, {.reason = "signal 11"}), test::IsOk());
  EXPECT_THAT(Claim(2), testing::ElementsAre("key 2", "key 1"));
}

// Such a job runs out of its turn, also where a cluster starts jobs in an order of its own.
TEST_P(QueueContract, AJobThatRunsAgainIsNotTheTurnThatIsServed) {
  OrderMany("ada", 20);
  const auto first = library_->ClaimNextJob("owner");
  ASSERT_TRUE(first.ok() && first->has_value());
  const std::string name = (*first)->job.name();
  ASSERT_THAT(library_->RequeueLostJob(FenceOf((*first)->job), {.reason = "signal 11"}),
              test::IsOk());
  Run(10);
  ASSERT_THAT(library_->ClaimJob(name, "node"), test::IsOk());
  OrderMany("ben", 2);
  EXPECT_THAT(Run(4), testing::ElementsAre("ada 12", "ben 1", "ada 13", "ben 2"));
}

}  // namespace gaitshelf::service

#endif  // GAITSHELF_TESTS_SERVICE_LIBRARY_QUEUE_CONTRACT_H_
