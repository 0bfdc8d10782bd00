#include "service/library/postgres_connection.h"

#include <limits>
#include <string>

#include "tests/service/library/postgres_factory.h"

namespace gaitshelf::service {
namespace {

using testing::HasSubstr;

TEST(PostgresConnectionTest, ReadsAddresses) {
  EXPECT_THAT(CheckPostgresAddress("postgresql://ada@db/gaits"), test::IsOk());
  EXPECT_THAT(CheckPostgresAddress("postgresql:///gaits?host=/run/x"), test::IsOk());
  EXPECT_THAT(CheckPostgresAddress("postgresql://db/gaits?colour=red"),
              test::HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("colour")));
  EXPECT_THAT(
      CheckPostgresAddress("postgresql://ada:secret@db/gaits"),
      test::HasStatus(absl::StatusCode::kInvalidArgument,
                      testing::AllOf(HasSubstr("PGPASSFILE"), testing::Not(HasSubstr("secret")))));
}

class PostgresServerTest : public testing::Test {
 protected:
  void SetUp() override {
    auto opened = PostgresConnection::Open(SharedCluster().address(), 200);
    ASSERT_THAT(opened, test::IsOk());
    connection_ = *std::move(opened);
  }

  std::unique_ptr<PostgresConnection> connection_;
};

TEST_F(PostgresServerTest, CarriesValuesOfEveryTypeBothWays) {
  ASSERT_THAT(connection_->Execute("CREATE TEMPORARY TABLE t (a BIGINT, b DOUBLE PRECISION, "
                                   "c TEXT, d BYTEA, e BIGINT)"),
              test::IsOk());
  const std::string bytes("\0\x01'\\\xff", 5);
  {
    auto insert =
        connection_->Prepare("INSERT INTO t VALUES (?1, ?2, ?3, ?4, NULL), (?1 + 1, 0, '', ?4, 1)");
    ASSERT_THAT(insert, test::IsOk());
    insert->BindInteger(std::numeric_limits<std::int64_t>::min()).BindReal(-0.1);
    insert->BindText("what's ? µ").BindBytes(bytes);
    EXPECT_EQ(*insert->Run(), 2);
  }
  auto query = connection_->Prepare("SELECT a, b, c, d, e, a < 0, 7 FROM t ORDER BY a");
  ASSERT_THAT(query, test::IsOk());
  ASSERT_TRUE(*query->Step());
  EXPECT_EQ(query->Integer(0), std::numeric_limits<std::int64_t>::min());
  EXPECT_EQ(query->Real(1), -0.1);
  EXPECT_EQ(query->Bytes(2), "what's ? µ");
  EXPECT_EQ(query->Bytes(3), bytes);
  EXPECT_TRUE(query->IsNull(4));
  EXPECT_EQ(query->Bytes(4), "");
  EXPECT_EQ(query->Integer(5), 1);
  EXPECT_EQ(query->Integer(6), 7);
  ASSERT_TRUE(*query->Step());
  EXPECT_FALSE(query->IsNull(4));
  EXPECT_FALSE(*query->Step());
}

TEST_F(PostgresServerTest, NamesTheDatabaseAndTheMend) {
  EXPECT_THAT(connection_->Execute("SELECT * FROM nowhere"),
              test::HasStatus(absl::StatusCode::kInternal,
                              testing::AllOf(HasSubstr("gaitshelf at"), HasSubstr("nowhere"))));
  EXPECT_FALSE(connection_->is_lost());
  const std::string elsewhere = SharedCluster().address();
  EXPECT_THAT(PostgresConnection::Open(
                  "postgresql://gaitshelf@/other" + elsewhere.substr(elsewhere.find('?')), 200),
              test::HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("other")));
  EXPECT_THAT(PostgresConnection::Open(
                  "postgresql://nobody@/gaitshelf" + elsewhere.substr(elsewhere.find('?')), 200),
              test::HasStatus(absl::StatusCode::kPermissionDenied, HasSubstr("nobody")));
  EXPECT_THAT(PostgresConnection::Open("postgresql:///gaitshelf?host=/nowhere", 200),
              test::HasStatus(absl::StatusCode::kUnavailable, HasSubstr("/nowhere")));
}

TEST_F(PostgresServerTest, NothingIsStoredAfterAFailedStatement) {
  ASSERT_THAT(connection_->Execute("BEGIN; CREATE TABLE half (a BIGINT)"), test::IsOk());
  EXPECT_FALSE(connection_->Execute("SELECT * FROM nowhere").ok());
  EXPECT_THAT(connection_->Commit(),
              test::HasStatus(absl::StatusCode::kInternal, HasSubstr("failed")));
  EXPECT_FALSE(connection_->Execute("SELECT * FROM half").ok());
}

TEST_F(PostgresServerTest, DoesNotWaitForALockForEver) {
  ASSERT_THAT(connection_->Execute("BEGIN; SELECT pg_advisory_xact_lock(7)"), test::IsOk());
  const auto second = PostgresConnection::Open(SharedCluster().address(), 50);
  ASSERT_THAT(second, test::IsOk());
  EXPECT_THAT((*second)->Execute("SELECT pg_advisory_lock(7)"),
              test::HasStatus(absl::StatusCode::kUnavailable, HasSubstr("ask again")));
}

TEST_F(PostgresServerTest, KnowsThatItIsLost) {
  const auto second = PostgresConnection::Open(SharedCluster().address(), 200);
  ASSERT_THAT(second, test::IsOk());
  auto end = connection_->Prepare("SELECT pg_terminate_backend(CAST(?1 AS INTEGER))");
  ASSERT_THAT(end->BindInteger(PQbackendPID((*second)->handle())).Step(), test::IsOk());
  absl::Status status;
  for (int i = 0; i < 100 && status.ok(); ++i) {
    status = (*second)->Execute("SELECT 1");
  }
  EXPECT_TRUE(absl::IsUnavailable(status));
  EXPECT_TRUE((*second)->is_lost());
  EXPECT_FALSE(connection_->is_lost());
}

}  // namespace
}  // namespace gaitshelf::service
