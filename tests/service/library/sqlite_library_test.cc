#include "service/library/sqlite_library.h"

#include <csignal>
#include <cstdio>
#include <filesystem>
#include <memory>
#include <string>
#include <thread>
#include <vector>

#include <gtest/gtest.h>
#include <sqlite3.h>
#include <sys/wait.h>
#include <unistd.h>

#include "service/library/sqlite_connection.h"
#include "tests/service/library/library_contract.h"
#include "tests/support/size_limit.h"

namespace gaitshelf::service {
namespace {

using testing::HasSubstr;

class SqliteLibraryTest : public testing::Test {
 protected:
  std::unique_ptr<Library> Open() {
    auto opened = OpenSqliteLibrary(path_, {});
    EXPECT_THAT(opened, test::IsOk());
    return opened.ok() ? std::move(*opened) : nullptr;
  }
  // Changes the file behind the library's back.
  void Tamper(const std::string& sql) {
    sqlite3* handle = nullptr;
    ASSERT_EQ(sqlite3_open(path_.c_str(), &handle), SQLITE_OK);
    ASSERT_EQ(sqlite3_exec(handle, sql.c_str(), nullptr, nullptr, nullptr), SQLITE_OK)
        << sqlite3_errmsg(handle);
    EXPECT_EQ(sqlite3_changes(handle), 1);
    sqlite3_close(handle);
  }

  test::TemporaryFolder folder_;
  const std::string path_ = folder_.File("library.db");
};

TEST_F(SqliteLibraryTest, FindsAFlippedByteInAGait) {
  const auto library = Open();
  ASSERT_THAT(library->InsertGait(MakeStoredGait("g-1", v1::VERDICT_GOOD, 1.0), "key"),
              test::IsOk());
  ASSERT_THAT(library->InsertGait(MakeStoredGait("g-2", v1::VERDICT_GOOD, 1.0), "key"),
              test::IsOk());
  // The body's fifth byte is a letter of the name; 'Z' occurs in none.
  Tamper(
      "UPDATE gait_bodies SET body = CAST(substr(body, 1, 4) || x'5a' || substr(body, 6) AS "
      "BLOB) WHERE gait_id = 1");
  EXPECT_THAT(library->GetGaitBytes("g-1"),
              test::HasStatus(absl::StatusCode::kDataLoss, HasSubstr("'g-1'")));
  EXPECT_THAT(library->GetGaitBytes("g-2"), test::IsOk());
  EXPECT_THAT(
      library->CheckIntegrity(),
      test::HasStatus(absl::StatusCode::kDataLoss,
                      testing::AllOf(HasSubstr("'g-1'"), testing::Not(HasSubstr("'g-2'")))));
}

TEST_F(SqliteLibraryTest, WhatIsKeptInMemoryHidesNoDamage) {
  const auto library = OpenSqliteLibrary(path_, {.gait_cache_bytes = 1 << 20}).value();
  ASSERT_THAT(library->InsertGait(MakeStoredGait("g-1", v1::VERDICT_GOOD, 1.0), "key"),
              test::IsOk());
  const SharedBytes before = library->GetGaitBytes("g-1").value();
  EXPECT_EQ(library->GetGaitBytes("g-1").value(), before);  // the same bytes, not equal ones
  Tamper("UPDATE gait_bodies SET body = CAST(body || x'00' AS BLOB)");
  EXPECT_EQ(library->GetGaitBytes("g-1").value(), before);
  EXPECT_TRUE(absl::IsDataLoss(library->CheckIntegrity()));
  // A checksum that is another is another audit, or damage as well.
  Tamper("UPDATE gait_bodies SET sha256 = CAST(sha256 || x'00' AS BLOB)");
  EXPECT_TRUE(absl::IsDataLoss(library->GetGaitBytes("g-1").status()));
}

TEST_F(SqliteLibraryTest, LoadsTheLatestGaitsThatFitAndNoDamagedOne) {
  const v1::Gait gait = MakeStoredGait("g-1", v1::VERDICT_GOOD, 1.0);
  const auto library =
      OpenSqliteLibrary(path_, {.gait_cache_bytes = 2 * gait.ByteSizeLong()}).value();
  for (const char* name : {"g-1", "g-2", "g-3", "g-4"}) {
    ASSERT_THAT(library->InsertGait(MakeStoredGait(name, v1::VERDICT_GOOD, 1.0), name),
                test::IsOk());
  }
  Tamper("UPDATE gait_bodies SET body = CAST(body || x'00' AS BLOB) WHERE gait_id = 3");
  const auto loaded = library->LoadGaits([] { return false; });
  ASSERT_THAT(loaded, test::IsOk());
  EXPECT_EQ(loaded->gait_count, 2);
  EXPECT_TRUE(loaded->is_full);
  // Damage that comes later does not reach what is in memory.
  for (const char* id : {"1", "2", "4"}) {
    Tamper("UPDATE gait_bodies SET body = CAST(body || x'00' AS BLOB) WHERE gait_id = " +
           std::string(id));
  }
  EXPECT_THAT(library->GetGaitBytes("g-4"), test::IsOk());
  EXPECT_THAT(library->GetGaitBytes("g-2"), test::IsOk());
  EXPECT_TRUE(absl::IsDataLoss(library->GetGaitBytes("g-3").status()));
  EXPECT_TRUE(absl::IsDataLoss(library->GetGaitBytes("g-1").status()));
}

// At once, unlike a database that has to be listened to.
TEST_F(SqliteLibraryTest, HandsOutWhatAnotherProcessHasJustStored) {
  const auto library = OpenSqliteLibrary(path_, {.gait_cache_bytes = 1 << 20}).value();
  const auto other = Open();
  ASSERT_THAT(library->InsertGait(MakeStoredGait("g-1", v1::VERDICT_FAILED, 1.0), "key"),
              test::IsOk());
  for (int i = 0; i < 50; ++i) {
    const v1::Gait gait =
        MakeStoredGait("g-1", i % 2 == 0 ? v1::VERDICT_GOOD : v1::VERDICT_FAILED, 1.0);
    ASSERT_THAT(library->GetGaitBytes("g-1"), test::IsOk());
    ASSERT_THAT(other->InsertGait(gait, "key"), test::IsOk());
    EXPECT_EQ(**library->GetGaitBytes("g-1"), gait.SerializeAsString());
  }
}

TEST_F(SqliteLibraryTest, FindsAGaitWithoutBody) {
  const auto library = Open();
  ASSERT_THAT(library->InsertGait(MakeStoredGait("g-1", v1::VERDICT_GOOD, 1.0), "key"),
              test::IsOk());
  Tamper("DELETE FROM gait_bodies");
  EXPECT_TRUE(absl::IsDataLoss(library->GetGaitBytes("g-1").status()));
}

TEST_F(SqliteLibraryTest, FindsAnOrphanBody) {
  const auto library = Open();
  Tamper("INSERT INTO gait_bodies VALUES (77, x'00', x'00')");
  EXPECT_THAT(library->CheckIntegrity(),
              test::HasStatus(absl::StatusCode::kDataLoss, HasSubstr("gait_bodies")));
}

TEST_F(SqliteLibraryTest, FindsDamagedPages) {
  {
    const auto library = Open();
    for (int i = 0; i < 50; ++i) {
      v1::Gait gait = MakeStoredGait("g-" + std::to_string(i), v1::VERDICT_GOOD, 1.0);
      gait.mutable_leg_position_m()->Resize(1000, 0.001);
      ASSERT_THAT(library->InsertGait(gait, "key"), test::IsOk());
    }
  }
  // Closing has moved everything into the file; overwrite a few pages behind the roots of tables.
  std::FILE* file = std::fopen(path_.c_str(), "r+b");
  ASSERT_NE(file, nullptr);
  std::fseek(file, 60 * 4096, SEEK_SET);
  const std::string noise(8 * 4096, '\x5a');
  std::fwrite(noise.data(), 1, noise.size(), file);
  std::fclose(file);
  EXPECT_TRUE(absl::IsDataLoss(Open()->CheckIntegrity()));
}

// Stores gaits one after the other for ever and tells of each over a pipe once it was accepted.
[[noreturn]] void StoreForEver(const std::string& path, int pipe) {
  auto library = OpenSqliteLibrary(path, {});
  if (!library.ok()) {
    _exit(1);
  }
  v1::Gait gait = MakeStoredGait("", v1::VERDICT_GOOD, 1.0);
  gait.mutable_leg_position_m()->Resize(10'000, 0.001);
  for (int i = 1;; ++i) {
    gait.set_name("g-" + std::to_string(i));
    if (!(*library)->InsertGait(gait, "key").ok() || write(pipe, &i, sizeof(i)) != sizeof(i)) {
      _exit(1);
    }
  }
}

TEST_F(SqliteLibraryTest, AcceptedGaitsOutliveAKilledWriter) {
  for (int round = 0; round < 5; ++round) {
    int ends[2] = {};
    ASSERT_EQ(pipe(ends), 0);
    const pid_t writer = fork();
    if (writer == 0) {
      StoreForEver(path_, ends[1]);
    }
    close(ends[1]);
    int accepted = 0;
    while (accepted < 10 + 7 * round) {
      ASSERT_EQ(read(ends[0], &accepted, sizeof(accepted)), static_cast<ssize_t>(sizeof(accepted)));
    }
    kill(writer, SIGKILL);
    waitpid(writer, nullptr, 0);
    int later = 0;
    while (read(ends[0], &later, sizeof(later)) == static_cast<ssize_t>(sizeof(later))) {
      accepted = later;
    }
    close(ends[0]);

    const auto library = Open();
    EXPECT_THAT(library->CheckIntegrity(), test::IsOk());
    for (int i = 1; i <= accepted; ++i) {
      EXPECT_THAT(library->GetGaitBytes("g-" + std::to_string(i)), test::IsOk());
    }
  }
}

TEST_F(SqliteLibraryTest, IsFullUntilThereIsRoomForAGait) {
  const auto library = Open();
  v1::Gait gait = MakeStoredGait("g-1", v1::VERDICT_GOOD, 1.0);
  gait.mutable_leg_position_m()->Resize(10'000, 0.001);
  ASSERT_THAT(library->InsertGait(gait, "key"), test::IsOk());
  EXPECT_FALSE(library->IsFull());
  {
    const test::SizeLimit limit(std::filesystem::file_size(path_ + "-wal"));
    gait.set_name("g-2");
    EXPECT_THAT(library->InsertGait(gait, "key"),
                test::HasStatus(absl::StatusCode::kResourceExhausted,
                                testing::AllOf(HasSubstr(folder_.path()), HasSubstr("MB left"))));
    EXPECT_TRUE(library->IsFull());
    EXPECT_THAT(library->GetGaitBytes("g-1"), test::IsOk());
    EXPECT_TRUE(absl::IsNotFound(library->GetGaitBytes("g-2").status()));
  }
  EXPECT_FALSE(library->IsFull());
  EXPECT_THAT(library->InsertGait(gait, "key"), test::IsOk());
  // What was written to find out has left nothing behind.
  const auto connection = SqliteConnection::Open(path_, 1000);
  ASSERT_THAT(connection, test::IsOk());
  EXPECT_EQ(*(*connection)->QueryInteger("SELECT count(*) FROM leg_tables"), 0);
  EXPECT_THAT(library->CheckIntegrity(), test::IsOk());
}

TEST_F(SqliteLibraryTest, ManyMayMakeItAtTheSameTime) {
  // Some turns, since few of them bring two into each other's way.
  for (int turn = 0; turn < 10; ++turn) {
    const std::string path = folder_.File("library-" + std::to_string(turn) + ".db");
    std::vector<std::thread> threads;
    for (int i = 0; i < 8; ++i) {
      threads.emplace_back([&path] { EXPECT_THAT(OpenSqliteLibrary(path, {}), test::IsOk()); });
    }
    for (std::thread& thread : threads) {
      thread.join();
    }
    const auto library = OpenSqliteLibrary(path, {});
    ASSERT_THAT(library, test::IsOk());
    EXPECT_THAT((*library)->CheckIntegrity(), test::IsOk());
  }
}

TEST_F(SqliteLibraryTest, RefusesFilesThatAreNoLibrary) {
  EXPECT_THAT(OpenSqliteLibrary(folder_.File("nowhere/library.db"), {}),
              test::HasStatus(absl::StatusCode::kNotFound, HasSubstr("nowhere/library.db")));
  EXPECT_FALSE(OpenSqliteLibrary(folder_.path(), {}).ok());
}

}  // namespace
}  // namespace gaitshelf::service
