// Covers service/library/sql_garbage.cc
// Covers service/library/sql_counts.cc
#include "service/library/sqlite_connection.h"
#include "tests/service/library/care_contract.h"
#include "tests/service/library/sqlite_factory.h"

namespace gaitshelf::service {
namespace {

INSTANTIATE_TEST_SUITE_P(, CareContract, testing::Values(SqliteFactory()), FactoryName);

// By a clock that was set back, a gait that is retired now would be removed as retired long ago.
TEST(SqliteCareTest, AGaitIsNotRetiredBeforeTheLastChange) {
  const test::TemporaryFolder folder;
  const auto library = SqliteFactory().open(folder.path(), {});
  ASSERT_THAT(library, test::IsOk());
  ASSERT_THAT((*library)->InsertGait(MakeStoredGait("g-1", v1::VERDICT_GOOD, 1.0), "key"),
              test::IsOk());
  const auto connection = SqliteConnection::Open(SqliteFile(folder.path()), 1000);
  ASSERT_THAT(connection, test::IsOk());
  ASSERT_THAT((*connection)
                  ->Execute("INSERT INTO changes (time_us, requester, kind, subject, "
                            "detail) VALUES (5000000000000000, 'ada', 1, '', '')"),
              test::IsOk());
  ASSERT_THAT((*library)->RetireGait({.gait = "g-1", .reason = "old", .requester = "ada"}),
              test::IsOk());
  EXPECT_EQ((*library)->ListRetiredGaits()->at(0).retire_time().seconds(), 5'000'000'000);
}

}  // namespace
}  // namespace gaitshelf::service
