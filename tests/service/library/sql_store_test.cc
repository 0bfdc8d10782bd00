#include "service/library/sql_store.h"

#include <gtest/gtest.h>

#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

using testing::HasSubstr;

TEST(SqlStoreTest, TurnsMicrosecondsIntoATimestamp) {
  EXPECT_EQ(TimestampOf(1'500'000).seconds(), 1);
  EXPECT_EQ(TimestampOf(1'500'000).nanos(), 500'000'000);
  EXPECT_GT(NowUs(), 1'600'000'000'000'000);
}

TEST(SqlStoreTest, ReadsThePageThatIsAskedFor) {
  EXPECT_EQ(ReadPageRequest({})->size, 100);
  const auto bounds = ReadPageRequest({.page_size = 7, .page_token = "12"});
  ASSERT_THAT(bounds, test::IsOk());
  EXPECT_EQ(bounds->size, 7);
  EXPECT_EQ(bounds->below_id, 12);
}

TEST(SqlStoreTest, RefusesPagesThatDoNotExist) {
  EXPECT_THAT(ReadPageRequest({.page_size = 1001}),
              test::HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("page_size is 1001")));
  for (const char* token : {"0", "-3", "next"}) {
    EXPECT_THAT(ReadPageRequest({.page_token = token}),
                test::HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("page_token")));
  }
}

}  // namespace
}  // namespace gaitshelf::service
