#include <atomic>
#include <filesystem>
#include <fstream>
#include <memory>
#include <string>
#include <thread>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "absl/strings/str_cat.h"
#include "tests/service/library/library_contract.h"
#include "tests/service/library/sqlite_factory.h"

namespace gaitshelf::service {
namespace {

class SqliteBackupTest : public testing::Test {
 protected:
  void SetUp() override {
    auto opened = OpenSqliteLibrary(folder_.File("library.db"), {});
    ASSERT_THAT(opened, test::IsOk());
    library_ = std::move(*opened);
  }
  absl::Status Insert(const std::string& name) {
    return library_->InsertGait(MakeStoredGait(name, v1::VERDICT_GOOD, 1.0), "key");
  }

  test::TemporaryFolder folder_;
  std::unique_ptr<Library> library_;
};

TEST_F(SqliteBackupTest, TheCopyHoldsWhatWasThere) {
  ASSERT_THAT(Insert("g-1"), test::IsOk());
  const std::string path = folder_.File("copy.db");
  const auto backup = library_->BackUp(path);
  ASSERT_THAT(backup, test::IsOk());
  EXPECT_EQ(backup->path(), path);
  EXPECT_EQ(backup->gait_count(), 1);
  EXPECT_EQ(backup->size_bytes(), static_cast<std::int64_t>(std::filesystem::file_size(path)));
  ASSERT_THAT(Insert("g-2"), test::IsOk());
  const auto copy = OpenSqliteLibrary(path, {});
  ASSERT_THAT(copy, test::IsOk());
  EXPECT_EQ(**(*copy)->GetGaitBytes("g-1"), **library_->GetGaitBytes("g-1"));
  EXPECT_TRUE(absl::IsNotFound((*copy)->GetGaitBytes("g-2").status()));
}

TEST_F(SqliteBackupTest, WritersGoOnMeanwhile) {
  for (int i = 0; i < 50; ++i) {
    ASSERT_THAT(Insert(absl::StrCat("g-", i)), test::IsOk());
  }
  std::atomic<bool> is_done = false;
  std::atomic<int> written = 50;
  std::thread writer([&] {
    while (!is_done) {
      if (Insert(absl::StrCat("g-", written.load())).ok()) {
        ++written;
      }
    }
  });
  const auto backup = library_->BackUp(folder_.File("copy.db"));
  is_done = true;
  writer.join();
  ASSERT_THAT(backup, test::IsOk());
  EXPECT_GE(backup->gait_count(), 50);
  EXPECT_LE(backup->gait_count(), written);
  EXPECT_THAT(library_->CheckIntegrity(), test::IsOk());
}

TEST_F(SqliteBackupTest, NeverWritesOverAFile) {
  const std::string path = folder_.File("copy.db");
  std::ofstream(path) << "mine";
  EXPECT_THAT(library_->BackUp(path),
              test::HasStatus(absl::StatusCode::kAlreadyExists, testing::HasSubstr(path)));
  EXPECT_EQ(std::filesystem::file_size(path), 4U);
}

TEST_F(SqliteBackupTest, LeavesNothingWhenTheFolderIsNotThere) {
  EXPECT_FALSE(library_->BackUp(folder_.File("none/copy.db")).ok());
  for (const auto& file : std::filesystem::directory_iterator(folder_.path())) {
    EXPECT_THAT(file.path().filename().string(), testing::StartsWith("library.db"));
  }
}

}  // namespace
}  // namespace gaitshelf::service
