#include "service/library/postgres_dialect.h"

#include <regex>
#include <vector>

namespace gaitshelf::service {

std::string ToPostgresStatement(absl::string_view sql) {
  std::string result;
  result.reserve(sql.size());
  bool is_quoted = false;
  for (const char c : sql) {
    if (c == '\'') {
      is_quoted = !is_quoted;
    }
    result.push_back(c == '?' && !is_quoted ? '$' : c);
  }
  return result;
}

std::string ToPostgresSchema(const std::string& sql) {
  struct Rule {
    std::regex found;
    const char* put;
  };
  // In this order: the longer phrase before the word in it.
  static const auto* const rules = new std::vector<Rule>{
      {std::regex(R"(\bINTEGER PRIMARY KEY AUTOINCREMENT\b)"),
       "BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY"},
      {std::regex(R"(\bINTEGER\b)"), "BIGINT"},
      {std::regex(R"(\bREAL\b)"), "DOUBLE PRECISION"},
      {std::regex(R"(\bBLOB\b)"), "BYTEA"},
      {std::regex(R"(\bTEXT\b)"), "TEXT COLLATE \"C\""},
      {std::regex(R"(\) WITHOUT ROWID;)"), ");"},
      {std::regex(R"(CREATE TRIGGER (\w+) BEFORE (\w+) ON (\w+)\s+)"
                  R"(BEGIN SELECT RAISE\(ABORT, ('[^']*')\); END;)"),
       // A dollar sign is written as two here.
       "CREATE FUNCTION $1() RETURNS trigger LANGUAGE plpgsql AS "
       "$$$$BEGIN RAISE EXCEPTION $4; END$$$$; "
       "CREATE TRIGGER $1 BEFORE $2 ON $3 FOR EACH ROW EXECUTE FUNCTION $1();"}};
  std::string result = sql;
  for (const Rule& rule : *rules) {
    result = std::regex_replace(result, rule.found, rule.put);
  }
  return result;
}

}  // namespace gaitshelf::service
