#include "service/library/sqlite_connection.h"
#include "tests/service/library/attempts_contract.h"
#include "tests/service/library/sqlite_factory.h"

namespace gaitshelf::service {
namespace {

INSTANTIATE_TEST_SUITE_P(, AttemptsContract, testing::Values(SqliteFactory()), FactoryName);

// What a worker's clock leaves behind that was hours ahead and has been set right.
TEST(SqliteAttemptsTest, SignsOfLifeGoOnAfterTheClockWasSetBack) {
  const test::TemporaryFolder folder;
  const auto library = SqliteFactory().open(folder.path(), {});
  ASSERT_THAT(library, test::IsOk());
  const JobFence fence = StartJob(library->get(), "key");
  const auto connection = SqliteConnection::Open(SqliteFile(folder.path()), 1000);
  ASSERT_THAT(connection, test::IsOk());
  ASSERT_THAT((*connection)->Execute("UPDATE jobs SET heartbeat_us = heartbeat_us + 36000000000"),
              test::IsOk());
  const std::int64_t ahead_us = (*library)->ListRunningJobs()->at(0).heartbeat_us;
  ASSERT_THAT((*library)->WriteHeartbeat(fence), test::IsOk());
  EXPECT_EQ((*library)->ListRunningJobs()->at(0).heartbeat_us, ahead_us + 1);
  ASSERT_THAT((*library)->WriteProgress(fence, {}), test::IsOk());
  EXPECT_EQ((*library)->ListRunningJobs()->at(0).heartbeat_us, ahead_us + 2);
}

}  // namespace
}  // namespace gaitshelf::service
