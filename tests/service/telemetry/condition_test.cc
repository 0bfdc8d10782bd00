#include "service/telemetry/condition.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "service/library/sqlite_library.h"
#include "tests/support/temporary_folder.h"

namespace gaitshelf::service {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

Condition Well() {
  Condition condition;
  condition.is_library_reachable = true;
  condition.counts.queue_limit = 10;
  condition.free_disk_bytes = 2 << 20;
  condition.least_disk_bytes = 1 << 20;
  return condition;
}

TEST(ConditionTest, AWellServerTakesOrders) {
  EXPECT_THAT(ProblemsOf(Well()), IsEmpty());
  EXPECT_TRUE(TakesOrders(Well()));
}

TEST(ConditionTest, NamesWhatIsWrong) {
  Condition condition = Well();
  condition.is_library_reachable = false;
  condition.free_disk_bytes = 1000;
  EXPECT_THAT(ProblemsOf(condition),
              ElementsAre(HasSubstr("cannot be reached"), HasSubstr("0 MB left, wanted are 1")));
  EXPECT_FALSE(TakesOrders(condition));
}

TEST(ConditionTest, ALibraryThatTakesNoChangesIsUnwell) {
  Condition condition = Well();
  condition.is_library_full = true;
  EXPECT_THAT(ProblemsOf(condition), ElementsAre(HasSubstr("takes no changes")));
  EXPECT_FALSE(TakesOrders(condition));
}

TEST(ConditionTest, AFullQueueKeepsFromOrdersOnly) {
  Condition condition = Well();
  condition.counts.queued_jobs = 7;
  condition.counts.running_jobs = 3;
  EXPECT_THAT(ProblemsOf(condition), IsEmpty());
  EXPECT_FALSE(TakesOrders(condition));
}

TEST(ConditionTest, ADiskElsewhereIsNotThisServersConcern) {
  Condition condition = Well();
  condition.free_disk_bytes = -1;
  EXPECT_THAT(ProblemsOf(condition), IsEmpty());
}

TEST(ConditionTest, LooksAtLibraryAndDisk) {
  const test::TemporaryFolder folder;
  const auto library = OpenSqliteLibrary(folder.File("library.db"), {.queue_limit = 7}).value();
  const Condition condition = LookAt(library.get(), folder.path(), 5);
  EXPECT_TRUE(condition.is_library_reachable);
  EXPECT_FALSE(condition.is_library_full);
  EXPECT_EQ(condition.counts.queue_limit, 7);
  EXPECT_GT(condition.free_disk_bytes, 0);
  EXPECT_EQ(condition.least_disk_bytes, 5);
  EXPECT_EQ(LookAt(library.get(), "", 5).free_disk_bytes, -1);
  EXPECT_EQ(LookAt(library.get(), folder.File("gone"), 5).free_disk_bytes, 0);
}

}  // namespace
}  // namespace gaitshelf::service
