#include "service/library/sqlite_readers.h"

#include <atomic>
#include <chrono>
#include <cstdint>
#include <filesystem>
#include <future>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include <gtest/gtest.h>

#include "tests/support/status_matchers.h"
#include "tests/support/temporary_folder.h"

namespace gaitshelf::service {
namespace {

constexpr int kBusyTimeoutMs = 1000;

class SqliteReadersTest : public testing::Test {
 protected:
  void SetUp() override {
    auto writer = SqliteConnection::Open(path_, kBusyTimeoutMs);
    ASSERT_THAT(writer, test::IsOk());
    writer_ = std::move(*writer);
    ASSERT_THAT(writer_->Execute("CREATE TABLE words (word TEXT)"), test::IsOk());
  }
  std::unique_ptr<SqliteReaders> Open(int limit) {
    auto readers = SqliteReaders::Open(path_, kBusyTimeoutMs, limit);
    EXPECT_THAT(readers, test::IsOk());
    return std::move(*readers);
  }

  test::TemporaryFolder folder_;
  const std::string path_ = folder_.File("library.db");
  std::unique_ptr<SqliteConnection> writer_;
};

TEST_F(SqliteReadersTest, ReadAtTheSameTime) {
  const auto readers = Open(2);
  std::promise<void> first_has_begun;
  std::promise<void> second_is_done;
  auto first = std::async(std::launch::async, [&] {
    return readers->Read([&](SqlConnection* /*connection*/) {
      first_has_begun.set_value();
      // Would wait for ever if the second had to wait for this one.
      second_is_done.get_future().wait();
      return absl::OkStatus();
    });
  });
  first_has_begun.get_future().wait();
  EXPECT_THAT(readers->Read([](SqlConnection* connection) {
    return connection->Execute("SELECT count(*) FROM words");
  }),
              test::IsOk());
  second_is_done.set_value();
  EXPECT_THAT(first.get(), test::IsOk());
}

TEST_F(SqliteReadersTest, WaitForOneWhereAllAreTaken) {
  constexpr int kLimit = 2;
  const auto readers = Open(kLimit);
  std::atomic<int> now{0};
  std::atomic<int> most{0};
  std::vector<std::future<absl::Status>> reads;
  for (int i = 0; i < 8; ++i) {
    reads.push_back(std::async(std::launch::async, [&] {
      return readers->Read([&](SqlConnection* connection) {
        const int count = ++now;
        int before = most;
        while (before < count && !most.compare_exchange_weak(before, count)) {
        }
        const absl::Status status = connection->Execute("SELECT count(*) FROM words");
        --now;
        return status;
      });
    }));
  }
  for (auto& read : reads) {
    EXPECT_THAT(read.get(), test::IsOk());
  }
  EXPECT_LE(most, kLimit);
}

TEST_F(SqliteReadersTest, SeeWhatWasCommittedMeanwhileAndChangeNothing) {
  const auto readers = Open(1);
  const auto count = [&]() -> std::int64_t {
    std::int64_t found = -1;
    EXPECT_THAT(readers->Read([&](SqlConnection* connection) -> absl::Status {
      auto query = connection->Prepare("SELECT count(*) FROM words");
      EXPECT_THAT(query->Step(), test::IsOk());
      found = query->Integer(0);
      return absl::OkStatus();
    }),
                test::IsOk());
    return found;
  };
  EXPECT_EQ(count(), 0);
  ASSERT_THAT(writer_->Execute("INSERT INTO words VALUES ('trot')"), test::IsOk());
  EXPECT_EQ(count(), 1);
  EXPECT_FALSE(
      readers
          ->Read([](SqlConnection* connection) { return connection->Execute("DELETE FROM words"); })
          .ok());
  EXPECT_EQ(count(), 1);
}

TEST_F(SqliteReadersTest, TakesAConnectionBackFromAReadThatFailed) {
  const auto readers = Open(1);
  for (int i = 0; i < 3; ++i) {
    EXPECT_THAT(
        readers->Read([](SqlConnection* /*connection*/) { return absl::NotFoundError("none"); }),
        test::HasStatus(absl::StatusCode::kNotFound, "none"));
  }
}

// Whoever has no descriptors left reads on the connections that are there.
TEST_F(SqliteReadersTest, GoesOnWhereNoOtherCanBeOpened) {
  const auto readers = Open(2);
  std::promise<void> has_begun;
  std::promise<void> may_end;
  auto first = std::async(std::launch::async, [&] {
    return readers->Read([&](SqlConnection* /*connection*/) {
      has_begun.set_value();
      may_end.get_future().wait();
      return absl::OkStatus();
    });
  });
  has_begun.get_future().wait();
  // A folder in the file's place: the connection that is there does not see it.
  std::filesystem::rename(path_, folder_.File("away"));
  std::filesystem::create_directory(path_);
  ASSERT_FALSE(SqliteConnection::Open(path_, kBusyTimeoutMs).ok());
  auto second = std::async(std::launch::async, [&] {
    return readers->Read([](SqlConnection* /*connection*/) { return absl::OkStatus(); });
  });
  EXPECT_EQ(second.wait_for(std::chrono::milliseconds(50)), std::future_status::timeout);
  may_end.set_value();
  EXPECT_THAT(first.get(), test::IsOk());
  EXPECT_THAT(second.get(), test::IsOk());
}

}  // namespace
}  // namespace gaitshelf::service
