// Covers service/library/sql_schema.cc
#include "service/library/sqlite_schema.h"

#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include <gtest/gtest.h>

#include "service/library/sql_schema.h"
#include "tests/support/status_matchers.h"
#include "tests/support/temporary_folder.h"

namespace gaitshelf::service {
namespace {

using testing::HasSubstr;

class SqliteSchemaTest : public testing::Test {
 protected:
  std::unique_ptr<SqliteConnection> Open(const std::string& path) {
    auto opened = SqliteConnection::Open(path, 1000);
    EXPECT_THAT(opened, test::IsOk());
    return std::move(*opened);
  }

  test::TemporaryFolder folder_;
  const std::string path_ = folder_.File("library.db");
  const std::vector<std::string> one_step_ = {"CREATE TABLE words (word TEXT)"};
  const std::vector<std::string> two_steps_ = {
      one_step_[0],
      "ALTER TABLE words ADD COLUMN length INTEGER; UPDATE words SET length = 4"};
};

TEST_F(SqliteSchemaTest, FillsAnEmptyFileWithoutABackup) {
  const auto connection = Open(path_);
  ASSERT_THAT(UpgradeSqliteSchema(connection.get(), LibrarySchemaSteps()), test::IsOk());
  EXPECT_EQ(*connection->QueryInteger("PRAGMA user_version"),
            static_cast<std::int64_t>(LibrarySchemaSteps().size()));
  EXPECT_EQ(*connection->QueryInteger("SELECT count(*) FROM gaits"), 0);
  EXPECT_FALSE(std::filesystem::exists(path_ + ".before-schema-1"));
  EXPECT_THAT(UpgradeSqliteSchema(connection.get(), LibrarySchemaSteps()), test::IsOk());
}

TEST_F(SqliteSchemaTest, BringsAnOlderFileUpToDateAndKeepsACopy) {
  const auto connection = Open(path_);
  ASSERT_THAT(UpgradeSqliteSchema(connection.get(), one_step_), test::IsOk());
  ASSERT_THAT(connection->Execute("INSERT INTO words VALUES ('trot')"), test::IsOk());
  ASSERT_THAT(UpgradeSqliteSchema(connection.get(), two_steps_), test::IsOk());
  EXPECT_EQ(*connection->QueryInteger("SELECT length FROM words WHERE word = 'trot'"), 4);

  const auto copy = Open(path_ + ".before-schema-2");
  EXPECT_EQ(*copy->QueryInteger("PRAGMA user_version"), 1);
  EXPECT_EQ(*copy->QueryInteger("SELECT count(*) FROM words WHERE word = 'trot'"), 1);
}

TEST_F(SqliteSchemaTest, AStepThatFailsLeavesTheFileAsItWas) {
  const auto connection = Open(path_);
  ASSERT_THAT(UpgradeSqliteSchema(connection.get(), one_step_), test::IsOk());
  const std::vector<std::string> broken = {one_step_[0],
                                           "CREATE TABLE more (x); INSERT INTO nowhere VALUES (1)"};
  EXPECT_FALSE(UpgradeSqliteSchema(connection.get(), broken).ok());
  EXPECT_EQ(*connection->QueryInteger("PRAGMA user_version"), 1);
  EXPECT_EQ(*connection->QueryInteger("SELECT count(*) FROM sqlite_schema WHERE name = 'more'"), 0);
}

TEST_F(SqliteSchemaTest, RefusesAFileOfANewerProgram) {
  const auto connection = Open(path_);
  ASSERT_THAT(UpgradeSqliteSchema(connection.get(), two_steps_), test::IsOk());
  EXPECT_THAT(UpgradeSqliteSchema(connection.get(), one_step_),
              test::HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("schema 2")));
}

TEST_F(SqliteSchemaTest, RefusesTheDatabaseOfAnotherProgram) {
  const auto connection = Open(path_);
  ASSERT_THAT(connection->Execute("CREATE TABLE songs (title TEXT)"), test::IsOk());
  EXPECT_THAT(UpgradeSqliteSchema(connection.get(), one_step_),
              test::HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("another program")));
}

}  // namespace
}  // namespace gaitshelf::service
