#include "service/library/postgres_writer.h"

#include <memory>
#include <optional>
#include <string>

#include "tests/service/library/postgres_factory.h"

namespace gaitshelf::service {
namespace {

class PostgresWriterTest : public testing::Test {
 protected:
  void SetUp() override {
    const auto address = MakeSchema(folder_.path());
    ASSERT_THAT(address, test::IsOk());
    connection_ = *PostgresConnection::Open(*address, 1000);
    other_ = *PostgresConnection::Open(*address, 100);
    ASSERT_THAT(MakeWriters(connection_.get()), test::IsOk());
    ASSERT_THAT(connection_->Execute("CREATE TABLE t (a BIGINT)"), test::IsOk());
    ASSERT_THAT(BecomeWriter(connection_.get()), test::IsOk());
  }
  // Changes something and leaves the transaction open.
  PostgresWriter ChangeAndMark() {
    EXPECT_THAT(connection_->Execute("BEGIN; INSERT INTO t VALUES (1)"), test::IsOk());
    const auto mark = LeaveMark(connection_.get());
    EXPECT_THAT(mark, test::IsOk());
    return mark->value();
  }

  test::TemporaryFolder folder_;  // for its name
  std::unique_ptr<PostgresConnection> connection_;
  std::unique_ptr<PostgresConnection> other_;
};

TEST_F(PostgresWriterTest, KnowsWhatWasCommittedAndWhatNot) {
  const PostgresWriter first = ChangeAndMark();
  ASSERT_THAT(connection_->Commit(), test::IsOk());
  EXPECT_EQ(*WasCommitted(other_.get(), first), std::optional<bool>(true));
  const PostgresWriter second = ChangeAndMark();
  ASSERT_THAT(connection_->Execute("ROLLBACK"), test::IsOk());
  EXPECT_EQ(*WasCommitted(other_.get(), second), std::optional<bool>(false));
}

TEST_F(PostgresWriterTest, DoesNotKnowYetWhileTheTransactionIsOpen) {
  const PostgresWriter mark = ChangeAndMark();
  EXPECT_EQ(*WasCommitted(other_.get(), mark), std::nullopt);
  ASSERT_THAT(connection_->Commit(), test::IsOk());
  EXPECT_EQ(*WasCommitted(other_.get(), mark), std::optional<bool>(true));
}

TEST_F(PostgresWriterTest, LeavesNoMarkWhereNothingIsChanged) {
  ASSERT_THAT(connection_->Execute("BEGIN"), test::IsOk());
  ASSERT_THAT(connection_->QueryInteger("SELECT count(*) FROM t"), test::IsOk());
  EXPECT_EQ(*LeaveMark(connection_.get()), std::nullopt);
}

TEST_F(PostgresWriterTest, DropsRowsOfConnectionsThatAreLongGone) {
  ASSERT_THAT(BecomeWriter(other_.get()), test::IsOk());
  ASSERT_THAT(connection_->Execute("UPDATE writers SET written = now() - INTERVAL '2 days'"),
              test::IsOk());
  ASSERT_THAT(connection_->Execute("UPDATE writers SET process = -1 WHERE process <> "
                                   "pg_backend_pid()"),
              test::IsOk());
  ASSERT_THAT(MakeWriters(connection_.get()), test::IsOk());
  EXPECT_EQ(*connection_->QueryInteger("SELECT count(*) FROM writers"), 1);
}

}  // namespace
}  // namespace gaitshelf::service
