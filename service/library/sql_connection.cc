#include "service/library/sql_connection.h"

#include "absl/strings/str_cat.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {

absl::StatusOr<std::int64_t> SqlConnection::QueryInteger(const std::string& sql) {
  GAITSHELF_ASSIGN_OR_RETURN(SqlStatement statement, Prepare(sql));
  GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, statement.Step());
  if (!has_row) {
    return absl::InternalError(absl::StrCat("no answer to: ", sql));
  }
  return statement.Integer(0);
}

}  // namespace gaitshelf::service
