// Covers service/library/postgres_listener.cc
#include "service/library/postgres_storage.h"

#include <chrono>
#include <cstdint>
#include <memory>
#include <string>
#include <thread>
#include <vector>

#include "tests/service/library/postgres_factory.h"

namespace gaitshelf::service {
namespace {

class PostgresStorageTest : public testing::Test {
 protected:
  void SetUp() override {
    const auto address = MakeSchema(folder_.path());
    ASSERT_THAT(address, test::IsOk());
    storage_ = std::make_unique<PostgresStorage>(
        *address, PostgresStorageOptions{.connection_limit = 2, .patience_s = 10});
    ASSERT_THAT(storage_->UpgradeSchema({}), test::IsOk());
    ASSERT_THAT(Run(WriteScope::kRows, "CREATE TABLE t (a BIGINT)"), test::IsOk());
    killer_ = *PostgresConnection::Open(*address, 1000);
  }
  absl::Status Run(WriteScope scope, const std::string& sql) {
    return storage_->Write(scope,
                           [&](SqlConnection* connection) { return connection->Execute(sql); });
  }
  std::int64_t CountRows() {
    std::int64_t count = -1;
    EXPECT_THAT(storage_->Read([&](SqlConnection* connection) -> absl::Status {
      GAITSHELF_ASSIGN_OR_RETURN(count, connection->QueryInteger("SELECT count(*) FROM t"));
      return absl::OkStatus();
    }),
                test::IsOk());
    return count;
  }
  // Ends the server's side of a connection.
  void Break(SqlConnection* connection) {
    const auto number = connection->QueryInteger("SELECT pg_backend_pid()");
    ASSERT_THAT(number, test::IsOk());
    ASSERT_THAT(killer_->Execute(absl::StrCat("SELECT pg_terminate_backend(", *number, ")")),
                test::IsOk());
    std::this_thread::sleep_for(std::chrono::milliseconds(50));
  }

  test::TemporaryFolder folder_;  // for its name
  std::unique_ptr<PostgresStorage> storage_;
  std::unique_ptr<PostgresConnection> killer_;
};

TEST_F(PostgresStorageTest, DoesAWriteAgainWhoseConnectionWasLost) {
  int tries = 0;
  EXPECT_THAT(
      storage_->Write(WriteScope::kLibrary,
                      [&](SqlConnection* connection) -> absl::Status {
                        GAITSHELF_RETURN_IF_ERROR(connection->Execute("INSERT INTO t VALUES (1)"));
                        if (++tries < 3) {
                          Break(connection);
                        }
                        return connection->Execute("INSERT INTO t VALUES (2)");
                      }),
      test::IsOk());
  EXPECT_EQ(tries, 3);
  EXPECT_EQ(CountRows(), 2);
  EXPECT_TRUE(storage_->is_reachable());
}

// As after its clock was set forward, when every transaction seems to have stood idle for long.
TEST_F(PostgresStorageTest, DoesAWriteAgainThatTheDatabaseGaveUpAsIdle) {
  int tries = 0;
  EXPECT_THAT(
      storage_->Write(WriteScope::kRows,
                      [&](SqlConnection* connection) -> absl::Status {
                        GAITSHELF_RETURN_IF_ERROR(connection->Execute("INSERT INTO t VALUES (1)"));
                        if (++tries < 2) {
                          GAITSHELF_RETURN_IF_ERROR(connection->Execute(
                              "SET LOCAL idle_in_transaction_session_timeout = '50ms'"));
                          std::this_thread::sleep_for(std::chrono::milliseconds(300));
                        }
                        return connection->Execute("INSERT INTO t VALUES (2)");
                      }),
      test::IsOk());
  EXPECT_EQ(tries, 2);
  EXPECT_EQ(CountRows(), 2);
}

TEST_F(PostgresStorageTest, ChangesNothingWhenTheWorkFails) {
  EXPECT_THAT(
      storage_->Write(WriteScope::kRows,
                      [](SqlConnection* connection) -> absl::Status {
                        GAITSHELF_RETURN_IF_ERROR(connection->Execute("INSERT INTO t VALUES (1)"));
                        return absl::AbortedError("no");
                      }),
      test::HasStatus(absl::StatusCode::kAborted, "no"));
  EXPECT_EQ(CountRows(), 0);
}

TEST_F(PostgresStorageTest, TriesAgainWhenTransactionsStandInEachOthersWay) {
  ASSERT_THAT(Run(WriteScope::kRows, "INSERT INTO t VALUES (1), (2)"), test::IsOk());
  // Each locks one row and then wants the other's: PostgreSQL breaks one of them off.
  const auto lock_both = [&](int first) {
    EXPECT_THAT(storage_->Write(WriteScope::kRows,
                                [&](SqlConnection* connection) -> absl::Status {
                                  GAITSHELF_RETURN_IF_ERROR(connection->Execute(absl::StrCat(
                                      "SELECT 1 FROM t WHERE a = ", first, " FOR UPDATE")));
                                  std::this_thread::sleep_for(std::chrono::milliseconds(200));
                                  return connection->Execute(absl::StrCat(
                                      "SELECT 1 FROM t WHERE a = ", 3 - first, " FOR UPDATE"));
                                }),
                test::IsOk());
  };
  std::thread other(lock_both, 1);
  lock_both(2);
  other.join();
}

TEST_F(PostgresStorageTest, OneWriterAtATimeHasTheWholeLibrary) {
  // Without the lock both would count the same.
  std::vector<std::thread> writers;
  for (int i = 0; i < 8; ++i) {
    writers.emplace_back([&] {
      EXPECT_THAT(Run(WriteScope::kLibrary, "INSERT INTO t SELECT count(*) FROM t"), test::IsOk());
    });
  }
  for (std::thread& writer : writers) {
    writer.join();
  }
  std::int64_t different = 0;
  EXPECT_THAT(storage_->Read([&](SqlConnection* connection) -> absl::Status {
    GAITSHELF_ASSIGN_OR_RETURN(different,
                               connection->QueryInteger("SELECT count(DISTINCT a) FROM t"));
    return absl::OkStatus();
  }),
              test::IsOk());
  EXPECT_EQ(different, 8);
}

}  // namespace
}  // namespace gaitshelf::service
