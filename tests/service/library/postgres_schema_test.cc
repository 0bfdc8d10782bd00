#include "service/library/postgres_schema.h"

#include <string>
#include <vector>

#include "tests/service/library/postgres_factory.h"

namespace gaitshelf::service {
namespace {

using testing::HasSubstr;

class PostgresSchemaTest : public testing::Test {
 protected:
  void SetUp() override {
    const auto address = MakeSchema(folder_.path());
    ASSERT_THAT(address, test::IsOk());
    connection_ = *PostgresConnection::Open(*address, 1000);
  }

  test::TemporaryFolder folder_;  // for its name
  std::unique_ptr<PostgresConnection> connection_;
  const std::vector<std::string> steps_ = {"CREATE TABLE a (x INTEGER NOT NULL)",
                                           "ALTER TABLE a ADD COLUMN y INTEGER"};
};

TEST_F(PostgresSchemaTest, GoesOnFromWhereAnOlderProgramStopped) {
  ASSERT_THAT(UpgradePostgresSchema(connection_.get(), {steps_[0]}), test::IsOk());
  ASSERT_THAT(connection_->Execute("INSERT INTO a VALUES (7)"), test::IsOk());
  ASSERT_THAT(UpgradePostgresSchema(connection_.get(), steps_), test::IsOk());
  ASSERT_THAT(UpgradePostgresSchema(connection_.get(), steps_), test::IsOk());
  EXPECT_EQ(*connection_->QueryInteger("SELECT x FROM a WHERE y IS NULL"), 7);
  EXPECT_EQ(*connection_->QueryInteger("SELECT schema FROM library_schema"), 2);
}

TEST_F(PostgresSchemaTest, LeavesTheOldTablesWhenAStepFails) {
  ASSERT_THAT(UpgradePostgresSchema(connection_.get(), {steps_[0]}), test::IsOk());
  EXPECT_FALSE(
      UpgradePostgresSchema(connection_.get(), {steps_[0], steps_[1], "CREATE NONSENSE"}).ok());
  EXPECT_EQ(*connection_->QueryInteger("SELECT schema FROM library_schema"), 1);
  EXPECT_FALSE(connection_->Execute("SELECT y FROM a").ok());
}

TEST_F(PostgresSchemaTest, RefusesDatabasesOfOthersAndOfTheFuture) {
  ASSERT_THAT(connection_->Execute("CREATE TABLE somebodys (x BIGINT)"), test::IsOk());
  EXPECT_THAT(UpgradePostgresSchema(connection_.get(), steps_),
              test::HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("another program")));
  ASSERT_THAT(connection_->Execute("DROP TABLE somebodys"), test::IsOk());
  ASSERT_THAT(UpgradePostgresSchema(connection_.get(), steps_), test::IsOk());
  EXPECT_THAT(UpgradePostgresSchema(connection_.get(), {steps_[0]}),
              test::HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("schema 2")));
}

}  // namespace
}  // namespace gaitshelf::service
