#include "service/library/sql_counts.h"

#include "absl/status/statusor.h"
#include "service/library/sql_store.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

absl::StatusOr<std::int64_t> RowsOf(SqlConnection* connection, const char* table) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement query,
      connection->Prepare("SELECT row_count FROM row_counts WHERE table_name = ?1"));
  GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, query.BindText(table).Step());
  return has_row ? query.Integer(0) : 0;
}

}  // namespace

absl::Status CountRows(SqlConnection* connection, const char* table, std::int64_t more) {
  if (more == 0) {
    return absl::OkStatus();
  }
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement update,
      connection->Prepare(
          "UPDATE row_counts SET row_count = row_count + ?1 WHERE table_name = ?2"));
  return update.BindInteger(more).BindText(table).Run().status();
}

absl::StatusOr<LibraryCounts> SqlStore::Count() {
  return Read([&](SqlConnection* connection) -> absl::StatusOr<LibraryCounts> {
    LibraryCounts counts;
    GAITSHELF_ASSIGN_OR_RETURN(counts.gaits, RowsOf(connection, kGaitRows));
    GAITSHELF_ASSIGN_OR_RETURN(counts.trials, RowsOf(connection, kTrialRows));
    // Of open jobs there are few, and an index has them alone.
    GAITSHELF_ASSIGN_OR_RETURN(
        counts.queued_jobs, connection->QueryInteger("SELECT count(*) FROM jobs WHERE state = 1"));
    GAITSHELF_ASSIGN_OR_RETURN(
        counts.running_jobs, connection->QueryInteger("SELECT count(*) FROM jobs WHERE state = 2"));
    counts.queue_limit = options_.queue_limit;
    return counts;
  });
}

}  // namespace gaitshelf::service
