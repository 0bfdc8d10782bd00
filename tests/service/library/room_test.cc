#include "service/library/room.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/temporary_folder.h"

namespace gaitshelf::service {
namespace {

using testing::AllOf;
using testing::HasSubstr;

// What a disk with much room left is told about.
bool HasQuotaWords(const std::string& mend) { return mend.find("quota") != std::string::npos; }

TEST(RoomTest, KnowsTheFolderOfAFile) {
  EXPECT_EQ(FolderOf("/srv/gaits/library.db"), "/srv/gaits");
  EXPECT_EQ(FolderOf("library.db"), ".");
}

TEST(RoomTest, SaysHowMuchIsLeftAndWhere) {
  const test::TemporaryFolder folder;
  EXPECT_GT(FreeBytes(folder.path()), 0);
  EXPECT_THAT(FullDiskMend(folder.path()),
              AllOf(HasSubstr(folder.path()), HasSubstr(" MB left"), HasSubstr("make room")));
  EXPECT_EQ(HasQuotaWords(FullDiskMend(folder.path())), *FreeBytes(folder.path()) > 100 << 20);
  EXPECT_FALSE(FreeBytes("/nowhere").has_value());
  EXPECT_THAT(FullDiskMend("/nowhere"), HasSubstr("the disk of /nowhere is full"));
}

}  // namespace
}  // namespace gaitshelf::service
