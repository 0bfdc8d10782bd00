// Keeps the contract of every backend, and what only a shared library can show.
#include "service/library/postgres_library.h"

#include <atomic>
#include <chrono>
#include <cstdint>
#include <memory>
#include <mutex>
#include <set>
#include <string>
#include <thread>
#include <vector>

#include "tests/service/library/attempts_contract.h"
#include "tests/service/library/calibrations_contract.h"
#include "tests/service/library/care_contract.h"
#include "tests/service/library/descriptions_contract.h"
#include "tests/service/library/gait_bodies_contract.h"
#include "tests/service/library/gaits_contract.h"
#include "tests/service/library/jobs_contract.h"
#include "tests/service/library/postgres_factory.h"
#include "tests/service/library/queue_contract.h"
#include "tests/service/library/trials_contract.h"
#include "tests/support/log_lines.h"

namespace gaitshelf::service {
namespace {

using testing::HasSubstr;

INSTANTIATE_TEST_SUITE_P(, DescriptionsContract, testing::Values(PostgresFactory()), FactoryName);
INSTANTIATE_TEST_SUITE_P(, GaitBodiesContract, testing::Values(PostgresFactory()), FactoryName);
INSTANTIATE_TEST_SUITE_P(, GaitsContract, testing::Values(PostgresFactory()), FactoryName);
INSTANTIATE_TEST_SUITE_P(, JobsContract, testing::Values(PostgresFactory()), FactoryName);
INSTANTIATE_TEST_SUITE_P(, QueueContract, testing::Values(PostgresFactory()), FactoryName);
INSTANTIATE_TEST_SUITE_P(, AttemptsContract, testing::Values(PostgresFactory()), FactoryName);
INSTANTIATE_TEST_SUITE_P(, TrialsContract, testing::Values(PostgresFactory()), FactoryName);
INSTANTIATE_TEST_SUITE_P(, CalibrationsContract, testing::Values(PostgresFactory()), FactoryName);
INSTANTIATE_TEST_SUITE_P(, CareContract, testing::Values(PostgresFactory()), FactoryName);

class PostgresLibraryTest : public testing::Test {
 protected:
  void SetUp() override {
    const auto made = MakeSchema(folder_.path());
    ASSERT_THAT(made, test::IsOk());
    address_ = *made;
  }
  std::unique_ptr<Library> Open(double patience_s = 20) {
    auto opened = OpenPostgresLibrary(
        address_, {.gait_cache_bytes = 1 << 20}, {.patience_s = patience_s, .log = log_.log()});
    EXPECT_THAT(opened, test::IsOk());
    return opened.ok() ? std::move(*opened) : nullptr;
  }

  test::TemporaryFolder folder_;  // for its name
  std::string address_;
  test::LogLines log_;
};

TEST_F(PostgresLibraryTest, SeveralServersTakeEachJobOnce) {
  constexpr int kJobs = 16;
  const auto first = Open();
  for (int i = 0; i < kJobs; ++i) {
    ASSERT_THAT(first->OrderJob(MakeJobOrder(absl::StrCat("key ", i))), test::IsOk());
  }
  std::mutex mutex;
  std::multiset<std::string> taken;
  std::vector<std::thread> servers;
  for (int i = 0; i < 4; ++i) {
    servers.emplace_back([&] {
      const auto library = Open();
      while (true) {
        const auto claim = library->ClaimNextJob("owner");
        ASSERT_THAT(claim, test::IsOk());
        if (!claim->has_value()) {
          return;
        }
        const std::lock_guard<std::mutex> lock(mutex);
        taken.insert((*claim)->job.name());
      }
    });
  }
  for (std::thread& server : servers) {
    server.join();
  }
  EXPECT_EQ(taken.size(), static_cast<std::size_t>(kJobs));
  EXPECT_EQ(std::set<std::string>(taken.begin(), taken.end()).size(), taken.size());
}

TEST_F(PostgresLibraryTest, SeveralServersMakeOneJobOfOneKey) {
  std::mutex mutex;
  std::set<std::string> jobs;
  std::atomic<int> new_count = 0;
  std::vector<std::thread> servers;
  for (int i = 0; i < 6; ++i) {
    servers.emplace_back([&] {
      const auto library = Open();
      const auto ordered = library->OrderJob(MakeJobOrder("key"));
      ASSERT_THAT(ordered, test::IsOk());
      new_count += ordered->joined ? 0 : 1;
      const std::lock_guard<std::mutex> lock(mutex);
      jobs.insert(ordered->job.name());
    });
  }
  for (std::thread& server : servers) {
    server.join();
  }
  EXPECT_EQ(jobs.size(), 1U);
  EXPECT_EQ(new_count, 1);
}

TEST_F(PostgresLibraryTest, ReadsKnownGaitsFromMemoryWhileTheDatabaseIsGone) {
  const auto library = Open(/*patience_s=*/0.3);
  const v1::Gait gait = MakeStoredGait("g-1", v1::VERDICT_GOOD, 1.0);
  ASSERT_THAT(library->InsertGait(gait, "key"), test::IsOk());
  ASSERT_THAT(library->InsertGait(MakeStoredGait("g-2", v1::VERDICT_GOOD, 2.0), "key"),
              test::IsOk());
  ASSERT_THAT(library->GetGaitBytes("g-1"), test::IsOk());
  const auto other = Open(/*patience_s=*/0.3);
  ASSERT_THAT(other->LoadGaits([] { return false; }), test::IsOk());
  ASSERT_TRUE(SharedCluster().Stop("fast"));
  EXPECT_EQ(**library->GetGaitBytes("g-1"), gait.SerializeAsString());
  EXPECT_EQ(**other->GetGaitBytes("g-1"), gait.SerializeAsString());
  EXPECT_THAT(other->GetGaitBytes("g-2"), test::IsOk());
  const auto is_out_of_reach =
      test::HasStatus(absl::StatusCode::kUnavailable, HasSubstr("ask again"));
  EXPECT_THAT(library->GetGaitBytes("g-2"), is_out_of_reach);  // was never read
  EXPECT_THAT(library->FindBestGait("key"), is_out_of_reach);
  EXPECT_THAT(library->LoadGaits([] { return false; }), is_out_of_reach);
  // Once the loss has lasted, nobody waits any more.
  const auto start = std::chrono::steady_clock::now();
  for (int i = 0; i < 20; ++i) {
    EXPECT_THAT(library->OrderJob(MakeJobOrder("key")), is_out_of_reach);
    EXPECT_THAT(library->GetGaitBytes("g-1"), test::IsOk());
  }
  EXPECT_LT(std::chrono::steady_clock::now() - start, std::chrono::seconds(2));
  ASSERT_TRUE(SharedCluster().Start());
  while (!library->FindBestGait("key").ok()) {
    std::this_thread::sleep_for(std::chrono::milliseconds(20));
  }
  EXPECT_THAT(library->GetGaitBytes("g-2"), test::IsOk());
  EXPECT_THAT(log_.text(), HasSubstr("level=error event=\"library is out of reach\" reason="));
  EXPECT_THAT(log_.text(), HasSubstr("level=info event=\"library is back\" away_s="));
}

TEST_F(PostgresLibraryTest, IsWaitedForAtTheOpeningUntilThatIsGivenUp) {
  ASSERT_TRUE(SharedCluster().Stop("fast"));
  std::atomic<int> asked = 0;
  PostgresStorageOptions options{.patience_s = 0.1, .opening_patience_s = 60};
  options.is_given_up = [&asked] { return ++asked == 3; };
  EXPECT_THAT(OpenPostgresLibrary(address_, {}, options),
              test::HasStatus(absl::StatusCode::kUnavailable, HasSubstr("out of reach")));
  EXPECT_EQ(asked, 3);
  std::thread later([] {
    std::this_thread::sleep_for(std::chrono::milliseconds(500));
    EXPECT_TRUE(SharedCluster().Start());
  });
  options.is_given_up = nullptr;
  const auto library = OpenPostgresLibrary(address_, {}, options);
  later.join();
  ASSERT_THAT(library, test::IsOk());
  EXPECT_THAT((*library)->Count(), test::IsOk());
}

TEST_F(PostgresLibraryTest, WorkGoesOnAcrossRestartsAndNothingIsDoneTwice) {
  const auto library = Open();
  std::atomic<bool> is_over = false;
  std::atomic<int> stored = 0;
  std::thread writer([&] {
    while (!is_over) {
      const int number = ++stored;
      // A line in the log of changes each: a change that is done twice shows.
      ASSERT_THAT(library->InsertGait(
                      MakeStoredGait(absl::StrCat("g-", number), v1::VERDICT_GOOD, 1.0), "key"),
                  test::IsOk());
      ASSERT_THAT(library->RetireGait(
                      {.gait = absl::StrCat("g-", number), .reason = "x", .requester = "ada"}),
                  test::IsOk());
    }
  });
  for (const char* mode : {"fast", "immediate"}) {
    std::this_thread::sleep_for(std::chrono::milliseconds(150));
    ASSERT_TRUE(SharedCluster().Stop(mode));
    ASSERT_TRUE(SharedCluster().Start());
  }
  is_over = true;
  writer.join();
  EXPECT_EQ(library->Count()->gaits, stored);
  EXPECT_EQ(library->ListRetiredGaits()->size(), static_cast<std::size_t>(stored));
  int changes = 0;
  PageRequest page{.page_size = 1000};
  do {
    const auto found = library->ListChanges(page);
    ASSERT_THAT(found, test::IsOk());
    changes += static_cast<int>(found->changes.size());
    page.page_token = found->next_page_token;
  } while (!page.page_token.empty());
  EXPECT_EQ(changes, 2 * stored);
  EXPECT_THAT(library->CheckIntegrity(), test::IsOk());
}

TEST_F(PostgresLibraryTest, HearsOfJobsThatAnotherServerChanged) {
  const auto library = Open();
  const auto other = Open();
  const JobFence fence = StartJob(other.get(), "key");
  const auto await = [](const auto& is_true) {
    for (int i = 0; i < 500 && !is_true(); ++i) {
      std::this_thread::sleep_for(std::chrono::milliseconds(10));
    }
    return is_true();
  };
  ASSERT_TRUE(await([&] { return library->JobNews(fence.job).has_value(); }));
  const std::uint64_t before = *library->JobNews(fence.job);
  ASSERT_THAT(other->WriteProgress(fence, {}), test::IsOk());
  EXPECT_TRUE(await([&] { return library->JobNews(fence.job) != before; }));
}

TEST_F(PostgresLibraryTest, FindsAFlippedByteInAGait) {
  const auto library = Open();
  ASSERT_THAT(library->InsertGait(MakeStoredGait("g-1", v1::VERDICT_GOOD, 1.0), "key"),
              test::IsOk());
  const auto connection = PostgresConnection::Open(address_, 1000);
  ASSERT_THAT(connection, test::IsOk());
  ASSERT_THAT((*connection)->Execute("UPDATE gait_bodies SET body = set_byte(body, 4, 90)"),
              test::IsOk());
  const auto is_damaged = test::HasStatus(absl::StatusCode::kDataLoss, HasSubstr("'g-1'"));
  EXPECT_THAT(library->GetGaitBytes("g-1"), is_damaged);
  EXPECT_THAT(library->CheckIntegrity(), is_damaged);
}

TEST_F(PostgresLibraryTest, TheLogOfChangesIsOnlyAddedTo) {
  const auto library = Open();
  ASSERT_THAT(library->OrderJob(MakeJobOrder("key")), test::IsOk());
  const auto connection = PostgresConnection::Open(address_, 1000);
  ASSERT_THAT(connection, test::IsOk());
  for (const char* sql : {"UPDATE changes SET requester = 'eve'", "DELETE FROM changes"}) {
    EXPECT_THAT((*connection)->Execute(sql),
                test::HasStatus(absl::StatusCode::kInternal, HasSubstr("only added to")));
  }
}

TEST_F(PostgresLibraryTest, LeavesBackupsToTheDatabase) {
  EXPECT_THAT(Open()->BackUp("/tmp/copy"),
              test::HasStatus(absl::StatusCode::kUnimplemented, HasSubstr("pg_dump")));
}

}  // namespace
}  // namespace gaitshelf::service
