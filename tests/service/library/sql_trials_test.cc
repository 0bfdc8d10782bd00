#include <filesystem>

#include "service/library/gait_summary.h"
#include "service/library/sql_schema.h"
#include "service/library/sqlite_connection.h"
#include "service/library/sqlite_schema.h"
#include "tests/service/library/sqlite_factory.h"
#include "tests/service/library/trials_contract.h"

namespace gaitshelf::service {
namespace {

INSTANTIATE_TEST_SUITE_P(, TrialsContract, testing::Values(SqliteFactory()), FactoryName);

class SqliteTrialsTest : public testing::Test {
 protected:
  void Execute(const std::string& sql) {
    const auto connection = SqliteConnection::Open(SqliteFile(folder_.path()), 1000);
    ASSERT_THAT(connection, test::IsOk());
    ASSERT_THAT((*connection)->Execute(sql), test::IsOk());
  }

  test::TemporaryFolder folder_;
};

TEST_F(SqliteTrialsTest, SeesDamagedAndLostSamples) {
  auto library = SqliteFactory().open(folder_.path(), {});
  ASSERT_THAT(library, test::IsOk());
  ASSERT_THAT((*library)->InsertTrial(MakeTrial("t-1"), MakeBlocks()), test::IsOk());
  Execute("UPDATE trial_blocks SET body = x'00' WHERE number = 1");
  EXPECT_THAT((*library)->GetTrialBlock("t-1", 1),
              test::HasStatus(absl::StatusCode::kDataLoss, testing::HasSubstr("checksum")));
  Execute("DELETE FROM trial_blocks WHERE number = 2");
  EXPECT_THAT((*library)->GetTrialBlock("t-1", 2),
              test::HasStatus(absl::StatusCode::kDataLoss, testing::HasSubstr("is gone")));
  EXPECT_THAT((*library)->CheckIntegrity(),
              test::HasStatus(
                  absl::StatusCode::kDataLoss,
                  testing::AllOf(testing::HasSubstr("block 1"), testing::HasSubstr("block 2"))));
}

// A library of the first schema, as an earlier program left it.
TEST_F(SqliteTrialsTest, BringsALibraryWithoutTrialsUpToDateAndKeepsItsGaits) {
  {
    auto connection = SqliteConnection::Open(SqliteFile(folder_.path()), 1000);
    ASSERT_THAT(connection, test::IsOk());
    ASSERT_THAT(UpgradeSqliteSchema(connection->get(), {LibrarySchemaSteps().front()}),
                test::IsOk());
    auto insert =
        (*connection)
            ->Prepare(
                "INSERT INTO gaits (name, order_key, robot, robot_digest, surface, surface_digest, "
                "verdict, cost_ratio, insert_us, summary) "
                "VALUES ('g-1', 'key', 'weevil', 'r', 'duct-steel', 's', 1, 1.0, 1, ?1)");
    ASSERT_THAT(insert, test::IsOk());
    const v1::Gait gait = MakeStoredGait("g-1", v1::VERDICT_GOOD, 1.0);
    insert->BindBytes(SummarizeGait(gait).SerializeAsString());
    ASSERT_THAT(insert->Run(), test::IsOk());
  }
  auto library = SqliteFactory().open(folder_.path(), {});
  ASSERT_THAT(library, test::IsOk());
  EXPECT_THAT((*library)->GetGaitSummary("g-1"), test::IsOk());
  EXPECT_THAT((*library)->InsertTrial(MakeTrial("t-1"), MakeBlocks()), test::IsOk());
  EXPECT_EQ((*library)->Count()->gaits, 1);
  EXPECT_EQ((*library)->Count()->trials, 1);
  EXPECT_TRUE(std::filesystem::exists(
      absl::StrCat(SqliteFile(folder_.path()), ".before-schema-", LibrarySchemaSteps().size())));
}

}  // namespace
}  // namespace gaitshelf::service
