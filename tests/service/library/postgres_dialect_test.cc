#include "service/library/postgres_dialect.h"

#include <gtest/gtest.h>

namespace gaitshelf::service {
namespace {

TEST(PostgresDialectTest, WritesParametersWithADollarSign) {
  EXPECT_EQ(ToPostgresStatement("SELECT a FROM t WHERE b = ?1 AND (?12 = '' OR c = ?12)"),
            "SELECT a FROM t WHERE b = $1 AND ($12 = '' OR c = $12)");
  EXPECT_EQ(ToPostgresStatement("SELECT 'why?', ?1, 'it''s ?2'"), "SELECT 'why?', $1, 'it''s ?2'");
}

TEST(PostgresDialectTest, TranslatesTypesOfColumns) {
  EXPECT_EQ(ToPostgresSchema("CREATE TABLE t (id INTEGER PRIMARY KEY AUTOINCREMENT, a TEXT, "
                             "b REAL, c BLOB);\nCREATE TABLE u (d INTEGER) WITHOUT ROWID;"),
            "CREATE TABLE t (id BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY, "
            "a TEXT COLLATE \"C\", b DOUBLE PRECISION, c BYTEA);\nCREATE TABLE u (d BIGINT);");
}

TEST(PostgresDialectTest, MakesAFunctionForATrigger) {
  EXPECT_EQ(ToPostgresSchema("CREATE TRIGGER stay BEFORE DELETE ON t\n"
                             "  BEGIN SELECT RAISE(ABORT, 'kept'); END;"),
            "CREATE FUNCTION stay() RETURNS trigger LANGUAGE plpgsql AS "
            "$$BEGIN RAISE EXCEPTION 'kept'; END$$; "
            "CREATE TRIGGER stay BEFORE DELETE ON t FOR EACH ROW EXECUTE FUNCTION stay();");
}

}  // namespace
}  // namespace gaitshelf::service
