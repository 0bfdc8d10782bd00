// Rows of the table of jobs: reading and ending them.
#ifndef GAITSHELF_SERVICE_LIBRARY_SQL_JOB_ROWS_H_
#define GAITSHELF_SERVICE_LIBRARY_SQL_JOB_ROWS_H_

#include <cstdint>
#include <string>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "service/library/library.h"
#include "service/library/sql_connection.h"

namespace gaitshelf::service {

// What every query for whole rows starts with.
extern const char kJobColumns[];

// One row of the table.
struct JobRow {
  std::int64_t id = 0;
  JobAttempt attempt;
  bool is_cancel_requested = false;
  std::int64_t crash_count = 0;
};

// Returns the name of the job with an id.
std::string JobName(std::int64_t id);
bool IsOpenJob(v1::JobState state);

// Reads the present row of a query that starts with kJobColumns.
absl::StatusOr<JobRow> ReadJobRow(const SqlStatement& row);
// Errors:
//   kNotFound   no such job
absl::StatusOr<JobRow> ReadJob(SqlConnection* connection, const std::string& name);
// The same, and nobody else changes the job until the end of the transaction.
absl::StatusOr<JobRow> LockJob(SqlConnection* connection, const std::string& name);
// Adds the checkpoint to a row, if there is one.
absl::Status ReadCheckpoint(SqlConnection* connection, JobRow* row);
// Ends a locked job, whatever its state, and drops its checkpoint.
absl::Status EndJob(SqlConnection* connection, std::int64_t id, const JobEnd& end);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_SQL_JOB_ROWS_H_
