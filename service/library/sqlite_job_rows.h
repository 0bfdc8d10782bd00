// Rows of the embedded library's table of jobs: reading and ending them. Used under the mutex of
// the connection that is handed over.
#ifndef GAITSHELF_SERVICE_LIBRARY_SQLITE_JOB_ROWS_H_
#define GAITSHELF_SERVICE_LIBRARY_SQLITE_JOB_ROWS_H_

#include <cstdint>
#include <string>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "service/library/library.h"
#include "service/library/sqlite_connection.h"

namespace gaitshelf::service {

// What every query for whole rows starts with.
extern const char kSqliteJobColumns[];

// One row of the table.
struct SqliteJobRow {
  std::int64_t id = 0;
  JobAttempt attempt;
  bool is_cancel_requested = false;
  std::int64_t crash_count = 0;
};

// Returns the name of the job with an id.
std::string SqliteJobName(std::int64_t id);
bool IsOpenJob(v1::JobState state);

// Reads the present row of a query that starts with kSqliteJobColumns.
absl::StatusOr<SqliteJobRow> ReadSqliteJobRow(const SqliteStatement& row);
// Errors:
//   kNotFound   no such job
absl::StatusOr<SqliteJobRow> ReadSqliteJob(SqliteConnection* connection, const std::string& name);
// Adds the checkpoint to a row, if there is one.
absl::Status ReadSqliteCheckpoint(SqliteConnection* connection, SqliteJobRow* row);
// Ends a job, whatever its state, and drops its checkpoint.
absl::Status EndSqliteJob(SqliteConnection* connection, std::int64_t id, const JobEnd& end);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_SQLITE_JOB_ROWS_H_
