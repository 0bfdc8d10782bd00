#include "service/library/open_library.h"

#include <gtest/gtest.h>

#include "tests/support/status_matchers.h"
#include "tests/support/temporary_folder.h"

namespace gaitshelf::service {
namespace {

TEST(OpenLibraryTest, TellsAddressesFromFiles) {
  EXPECT_TRUE(IsDatabaseAddress("postgresql://db/gaits"));
  EXPECT_TRUE(IsDatabaseAddress("postgres://db/gaits"));
  EXPECT_FALSE(IsDatabaseAddress("/var/lib/gaitshelf/library.db"));
  EXPECT_FALSE(IsDatabaseAddress("postgresql.db"));
}

TEST(OpenLibraryTest, OpensAFile) {
  const test::TemporaryFolder folder;
  const auto library = OpenLibrary(folder.File("library.db"), {.queue_limit = 7});
  ASSERT_THAT(library, test::IsOk());
  EXPECT_EQ((*library)->Count()->queue_limit, 7);
  EXPECT_TRUE((*library)->JobNews("j-1").has_value());
}

TEST(OpenLibraryTest, SaysThatADatabaseIsOutOfReach) {
  EXPECT_THAT(OpenLibrary("postgresql:///gaits?host=/nowhere", {.patience_s = 0.1}),
              test::HasStatus(absl::StatusCode::kUnavailable, testing::HasSubstr("/nowhere")));
}

}  // namespace
}  // namespace gaitshelf::service
