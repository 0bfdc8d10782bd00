#include "service/library/sql_changes.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "service/library/sql_schema.h"
#include "service/library/sqlite_connection.h"
#include "service/library/sqlite_schema.h"
#include "tests/support/status_matchers.h"
#include "tests/support/temporary_folder.h"

namespace gaitshelf::service {
namespace {

TEST(SqlChangesTest, TheLogIsOnlyAddedTo) {
  const test::TemporaryFolder folder;
  auto connection = SqliteConnection::Open(folder.File("library.db"), 100);
  ASSERT_THAT(connection, test::IsOk());
  ASSERT_THAT(UpgradeSqliteSchema(connection->get(), LibrarySchemaSteps()), test::IsOk());
  ASSERT_THAT(AddChange(connection->get(),
                        {.requester = "ada",
                         .kind = v1::CHANGE_KIND_PUT_ROBOT,
                         .subject = "weevil",
                         .detail = "version 1"}),
              test::IsOk());
  for (const char* sql : {"UPDATE changes SET requester = 'eve'", "DELETE FROM changes"}) {
    EXPECT_THAT((*connection)->Execute(sql),
                test::HasStatus(absl::StatusCode::kInternal, testing::HasSubstr("only added to")));
  }
  EXPECT_EQ(*(*connection)->QueryInteger("SELECT count(*) FROM changes WHERE requester = 'ada'"),
            1);
}

}  // namespace
}  // namespace gaitshelf::service
