#include "service/library/sqlite_change_count.h"

#include <cstdint>
#include <memory>
#include <string>
#include <utility>

#include <gtest/gtest.h>

#include "tests/support/status_matchers.h"
#include "tests/support/temporary_folder.h"

namespace gaitshelf::service {
namespace {

class SqliteChangeCountTest : public testing::Test {
 protected:
  std::unique_ptr<SqliteConnection> Open() {
    auto opened = SqliteConnection::Open(folder_.File("library.db"), 1000);
    EXPECT_THAT(opened, test::IsOk());
    return std::move(*opened);
  }
  void Run(const std::string& sql) { ASSERT_THAT(other_->Execute(sql), test::IsOk()); }

  test::TemporaryFolder folder_;
  const std::unique_ptr<SqliteConnection> other_ = Open();
};

TEST_F(SqliteChangeCountTest, GrowsWithEveryCommitOfAnotherConnection) {
  Run("CREATE TABLE words (word TEXT); INSERT INTO words VALUES ('jump')");
  const auto reader = Open();
  SqliteChangeCount changes(reader.get());
  ASSERT_TRUE(changes.Read().has_value());
  for (int i = 0; i < 100; ++i) {
    const std::uint64_t before = *changes.Read();
    EXPECT_EQ(changes.Read(), before);
    // Back and forth, between contents of the same size.
    Run(i % 2 == 0 ? "UPDATE words SET word = 'walk'" : "UPDATE words SET word = 'trot'");
    EXPECT_GT(changes.Read(), before);
  }
}

TEST_F(SqliteChangeCountTest, StaysWhileNothingIsCommitted) {
  Run("CREATE TABLE words (word TEXT); INSERT INTO words VALUES ('trot')");
  const auto reader = Open();
  SqliteChangeCount changes(reader.get());
  const auto before = changes.Read();
  ASSERT_TRUE(before.has_value());
  EXPECT_EQ(*reader->QueryInteger("SELECT count(*) FROM words"), 1);
  Run("BEGIN IMMEDIATE; DELETE FROM words");
  EXPECT_EQ(changes.Read(), before);
  Run("ROLLBACK");
  EXPECT_EQ(changes.Read(), before);
}

TEST_F(SqliteChangeCountTest, GrowsAlsoAfterTheLogHasBegunAnew) {
  Run("CREATE TABLE words (word TEXT); INSERT INTO words VALUES ('trot')");
  const auto reader = Open();
  SqliteChangeCount changes(reader.get());
  std::uint64_t last = *changes.Read();
  for (const char* sql : {"UPDATE words SET word = 'walk'", "UPDATE words SET word = 'jump'"}) {
    Run("PRAGMA wal_checkpoint(TRUNCATE)");
    Run(sql);
    const auto now = changes.Read();
    ASSERT_TRUE(now.has_value());
    EXPECT_GT(*now, last);
    last = *now;
  }
}

TEST_F(SqliteChangeCountTest, IsThereForAnEmptyFile) {
  const auto reader = Open();
  SqliteChangeCount changes(reader.get());
  const auto before = changes.Read();
  Run("CREATE TABLE words (word TEXT)");
  EXPECT_NE(changes.Read(), before);
}

}  // namespace
}  // namespace gaitshelf::service
