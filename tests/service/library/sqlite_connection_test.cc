// Covers service/library/sql_connection.cc
#include "service/library/sqlite_connection.h"

#include <fstream>
#include <string>
#include <thread>

#include <gtest/gtest.h>

#include "tests/support/status_matchers.h"
#include "tests/support/temporary_folder.h"

namespace gaitshelf::service {
namespace {

using testing::HasSubstr;

class SqliteConnectionTest : public testing::Test {
 protected:
  void SetUp() override {
    auto opened = SqliteConnection::Open(path_, 100);
    ASSERT_THAT(opened, test::IsOk());
    connection_ = std::move(*opened);
    ASSERT_THAT(connection_->Execute("CREATE TABLE things (id INTEGER PRIMARY KEY, word, size)"),
                test::IsOk());
  }
  absl::StatusOr<int> Insert(const std::string& word, double size) {
    auto insert = connection_->Prepare("INSERT INTO things (word, size) VALUES (?1, ?2)");
    if (!insert.ok()) {
      return insert.status();
    }
    return insert->BindBytes(word).BindReal(size).Run();
  }

  test::TemporaryFolder folder_;
  const std::string path_ = folder_.File("things.db");
  std::unique_ptr<SqliteConnection> connection_;
};

TEST_F(SqliteConnectionTest, WritesSafely) {
  // 2 is FULL: a commit is on the disk when it returns.
  EXPECT_EQ(*connection_->QueryInteger("PRAGMA synchronous"), 2);
  EXPECT_EQ(*connection_->QueryInteger("PRAGMA foreign_keys"), 1);
  auto mode = connection_->Prepare("PRAGMA journal_mode");
  ASSERT_TRUE(*mode->Step());
  EXPECT_EQ(mode->Bytes(0), "wal");
}

TEST_F(SqliteConnectionTest, ReturnsEveryKindOfValueAsBound) {
  const std::string bytes("a\0b\xff", 4);
  EXPECT_EQ(*Insert(bytes, 0.1), 1);
  auto query = connection_->Prepare("SELECT id, word, size, NULL FROM things");
  ASSERT_TRUE(*query->Step());
  EXPECT_EQ(query->Integer(0), 1);
  EXPECT_EQ(query->Bytes(1), bytes);
  EXPECT_EQ(query->Real(2), 0.1);
  EXPECT_TRUE(query->IsNull(3));
  EXPECT_EQ(query->Bytes(3), "");
  EXPECT_FALSE(*query->Step());
}

TEST_F(SqliteConnectionTest, StoresEmptyTextAsTextAndNotAsNull) {
  auto insert = connection_->Prepare("INSERT INTO things (word) VALUES (?1)");
  ASSERT_THAT(insert->BindText(absl::string_view()).Run(), test::IsOk());
  EXPECT_EQ(*connection_->QueryInteger("SELECT count(*) FROM things WHERE word = ''"), 1);
}

TEST_F(SqliteConnectionTest, UsesAPreparedStatementAgain) {
  for (int i = 0; i < 3; ++i) {
    EXPECT_THAT(Insert("again", i), test::IsOk());
  }
  EXPECT_EQ(*connection_->QueryInteger("SELECT count(*) FROM things"), 3);
}

TEST_F(SqliteConnectionTest, ReportsAParameterThatIsNotThere) {
  auto insert = connection_->Prepare("INSERT INTO things (word) VALUES (?1)");
  EXPECT_FALSE(insert->BindInteger(1).BindInteger(2).Run().ok());
}

TEST_F(SqliteConnectionTest, ReportsStatementsThatMakeNoSense) {
  EXPECT_THAT(connection_->Execute("SELECT FROM"),
              test::HasStatus(absl::StatusCode::kInternal, HasSubstr("syntax error")));
  EXPECT_FALSE(connection_->Prepare("SELECT x FROM nowhere").ok());
}

TEST_F(SqliteConnectionTest, RollsBackUnlessCommitted) {
  {
    auto transaction = SqliteTransaction::Begin(connection_.get());
    ASSERT_THAT(transaction, test::IsOk());
    ASSERT_THAT(Insert("gone", 1.0), test::IsOk());
  }
  EXPECT_EQ(*connection_->QueryInteger("SELECT count(*) FROM things"), 0);
  {
    auto transaction = SqliteTransaction::Begin(connection_.get());
    ASSERT_THAT(Insert("kept", 1.0), test::IsOk());
    ASSERT_THAT(transaction->Commit(), test::IsOk());
  }
  EXPECT_EQ(*connection_->QueryInteger("SELECT count(*) FROM things"), 1);
}

TEST_F(SqliteConnectionTest, SaysThatAnotherProcessHoldsTheFile) {
  auto other = SqliteConnection::Open(path_, 100);
  ASSERT_THAT(other, test::IsOk());
  auto transaction = SqliteTransaction::Begin(other->get());
  ASSERT_THAT(transaction, test::IsOk());
  EXPECT_THAT(Insert("late", 1.0),
              test::HasStatus(absl::StatusCode::kUnavailable, HasSubstr("ask again")));
}

TEST_F(SqliteConnectionTest, WaitsForAnotherWriter) {
  auto other = SqliteConnection::Open(path_, 5000);
  ASSERT_THAT(connection_->Execute("PRAGMA busy_timeout = 5000"), test::IsOk());
  auto transaction = SqliteTransaction::Begin(other->get());
  std::thread late([&] {
    std::this_thread::sleep_for(std::chrono::milliseconds(50));
    EXPECT_THAT(transaction->Commit(), test::IsOk());
  });
  EXPECT_THAT(Insert("patient", 1.0), test::IsOk());
  late.join();
}

TEST_F(SqliteConnectionTest, SaysThatTheDiskIsFullAndWhichFile) {
  ASSERT_THAT(connection_->Execute("PRAGMA max_page_count = 4"), test::IsOk());
  EXPECT_THAT(Insert(std::string(100'000, 'x'), 1.0),
              test::HasStatus(absl::StatusCode::kResourceExhausted,
                              testing::AllOf(HasSubstr(path_), HasSubstr("disk is full"))));
  // Nothing is half written, and there is room again when there is room again.
  ASSERT_THAT(connection_->Execute("PRAGMA max_page_count = 1000"), test::IsOk());
  EXPECT_EQ(*connection_->QueryInteger("SELECT count(*) FROM things"), 0);
  EXPECT_THAT(Insert(std::string(100'000, 'x'), 1.0), test::IsOk());
}

TEST_F(SqliteConnectionTest, NamesAFolderThatDoesNotExist) {
  const std::string path = folder_.File("nowhere/things.db");
  EXPECT_THAT(SqliteConnection::Open(path, 100),
              test::HasStatus(absl::StatusCode::kNotFound,
                              testing::AllOf(HasSubstr(path), HasSubstr("folder"))));
}

TEST_F(SqliteConnectionTest, RefusesAFileThatIsNoDatabase) {
  const std::string path = folder_.File("letter.txt");
  std::ofstream(path) << std::string(5000, 'a');
  EXPECT_THAT(SqliteConnection::Open(path, 100),
              test::HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("not a library")));
}

}  // namespace
}  // namespace gaitshelf::service
