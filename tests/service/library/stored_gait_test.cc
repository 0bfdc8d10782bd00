#include "service/library/stored_gait.h"

#include <memory>
#include <string>
#include <utility>

#include <gtest/gtest.h>

#include "absl/strings/escaping.h"
#include "absl/strings/str_cat.h"
#include "service/library/checksum.h"
#include "service/library/sqlite_connection.h"
#include "tests/service/library/sqlite_factory.h"

namespace gaitshelf::service {
namespace {

class StoredGaitTest : public testing::Test {
 protected:
  void SetUp() override {
    auto opened = SqliteFactory().open(folder_.path(), {});
    ASSERT_THAT(opened, test::IsOk());
    library_ = std::move(*opened);
    ASSERT_THAT(library_->InsertGait(gait_, "key"), test::IsOk());
  }

  const v1::Gait gait_ = MakeStoredGait("g-1", v1::VERDICT_FAILED, 1.0);
  test::TemporaryFolder folder_;
  std::unique_ptr<Library> library_;
};

TEST_F(StoredGaitTest, LoadsWhatWasStoredGoodOrNot) {
  const auto loaded = LoadGait(library_.get(), "g-1");
  ASSERT_THAT(loaded, test::IsOk());
  EXPECT_EQ(loaded->SerializeAsString(), gait_.SerializeAsString());
}

TEST_F(StoredGaitTest, NamesAGaitThatIsNotThere) {
  EXPECT_THAT(LoadGait(library_.get(), "g-0"),
              test::HasStatus(absl::StatusCode::kNotFound, testing::HasSubstr("g-0")));
}

// Whole by their checksum, but of no message.
TEST_F(StoredGaitTest, SeesBytesThatAreNoGait) {
  const std::string bytes = "\x07";
  const auto connection = SqliteConnection::Open(SqliteFile(folder_.path()), 1000);
  ASSERT_THAT(connection, test::IsOk());
  ASSERT_THAT((*connection)
                  ->Execute(absl::StrCat("UPDATE gait_bodies SET body = x'",
                                         absl::BytesToHexString(bytes),
                                         "', sha256 = x'",
                                         absl::BytesToHexString(*Sha256(bytes)),
                                         "'")),
              test::IsOk());
  EXPECT_THAT(LoadGait(library_.get(), "g-1"),
              test::HasStatus(absl::StatusCode::kDataLoss,
                              testing::HasSubstr("gait g-1: the stored bytes are no gait")));
}

}  // namespace
}  // namespace gaitshelf::service
