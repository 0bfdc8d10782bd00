#include "service/library/sql_job_rows.h"

#include <memory>
#include <string>

#include <gtest/gtest.h>

#include "service/library/sql_schema.h"
#include "service/library/sqlite_connection.h"
#include "service/library/sqlite_schema.h"
#include "tests/support/status_matchers.h"
#include "tests/support/temporary_folder.h"

namespace gaitshelf::service {
namespace {

using testing::HasSubstr;

class JobRowsTest : public testing::Test {
 protected:
  void SetUp() override {
    auto opened = SqliteConnection::Open(folder_.File("library.db"), 1000);
    ASSERT_THAT(opened, test::IsOk());
    connection_ = std::move(*opened);
    ASSERT_THAT(UpgradeSqliteSchema(connection_.get(), LibrarySchemaSteps()), test::IsOk());
  }
  void InsertJob(const std::string& order_bytes) {
    ASSERT_THAT(connection_->Execute(
                    "INSERT INTO jobs (order_key, state, gait_order, robot_digest, surface_digest, "
                    "requester, attempt, crash_count, create_us, update_us) VALUES ('key', 2, " +
                    order_bytes + ", 'r', 's', 'bench', 3, 2, 1500000, 2500000)"),
                test::IsOk());
  }

  test::TemporaryFolder folder_;
  std::unique_ptr<SqliteConnection> connection_;
};

TEST_F(JobRowsTest, ReadsEveryColumn) {
  InsertJob("x''");
  const auto row = ReadJob(connection_.get(), "j-1");
  ASSERT_THAT(row, test::IsOk());
  EXPECT_EQ(row->id, 1);
  EXPECT_EQ(row->crash_count, 2);
  EXPECT_EQ(row->attempt.key, "key");
  EXPECT_EQ(row->attempt.robot_digest, "r");
  EXPECT_EQ(row->attempt.surface_digest, "s");
  EXPECT_EQ(row->attempt.job.attempt(), 3);
  EXPECT_EQ(row->attempt.job.create_time().seconds(), 1);
  EXPECT_EQ(row->attempt.job.create_time().nanos(), 500'000'000);
  EXPECT_EQ(row->attempt.job.update_time().seconds(), 2);
}

TEST_F(JobRowsTest, ReportsARowThatIsDamaged) {
  InsertJob("x'ff'");
  EXPECT_THAT(ReadJob(connection_.get(), "j-1"),
              test::HasStatus(absl::StatusCode::kDataLoss, HasSubstr("'j-1'")));
}

TEST_F(JobRowsTest, ReportsACheckpointThatIsDamaged) {
  InsertJob("x''");
  ASSERT_THAT(connection_->Execute("INSERT INTO job_checkpoints VALUES (1, x'ff')"), test::IsOk());
  auto row = ReadJob(connection_.get(), "j-1");
  ASSERT_THAT(row, test::IsOk());
  EXPECT_THAT(ReadCheckpoint(connection_.get(), &*row),
              test::HasStatus(absl::StatusCode::kDataLoss, HasSubstr("'j-1'")));
}

TEST_F(JobRowsTest, AnEndDropsTheCheckpoint) {
  InsertJob("x''");
  ASSERT_THAT(connection_->Execute("INSERT INTO job_checkpoints VALUES (1, x'')"), test::IsOk());
  ASSERT_THAT(EndJob(connection_.get(), 1, {.state = v1::JOB_STATE_DONE, .gait = "g-1"}),
              test::IsOk());
  EXPECT_EQ(*connection_->QueryInteger("SELECT count(*) FROM job_checkpoints"), 0);
  EXPECT_EQ(ReadJob(connection_.get(), "j-1")->attempt.job.gait(), "g-1");
}

}  // namespace
}  // namespace gaitshelf::service
