#include "service/library/sql_job_rows.h"

#include "absl/strings/match.h"
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "service/library/sql_store.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

absl::Status NoJob(const std::string& name) {
  return absl::NotFoundError(
      absl::StrCat("job '", name, "' is not in the library; list what is there"));
}

absl::StatusOr<std::int64_t> JobId(const std::string& name) {
  std::int64_t id = 0;
  if (!absl::StartsWith(name, "j-") || !absl::SimpleAtoi(name.substr(2), &id) ||
      JobName(id) != name) {
    return NoJob(name);
  }
  return id;
}

absl::Status DropCheckpoint(SqlConnection* connection, std::int64_t id) {
  GAITSHELF_ASSIGN_OR_RETURN(SqlStatement remove,
                             connection->Prepare("DELETE FROM job_checkpoints WHERE job_id = ?1"));
  return remove.BindInteger(id).Run().status();
}

absl::StatusOr<JobRow> FindJob(SqlConnection* connection,
                               const std::string& name,
                               const char* lock) {
  GAITSHELF_ASSIGN_OR_RETURN(const std::int64_t id, JobId(name));
  GAITSHELF_ASSIGN_OR_RETURN(SqlStatement query,
                             connection->Prepare(absl::StrCat(kJobColumns, "WHERE id = ?1", lock)));
  GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, query.BindInteger(id).Step());
  if (!has_row) {
    return NoJob(name);
  }
  return ReadJobRow(query);
}

}  // namespace

const char kJobColumns[] =
    "SELECT id, state, gait_order, requester, attempt, progress, gait, failure_reason, create_us, "
    "update_us, order_key, robot_digest, surface_digest, is_cancel_requested, crash_count FROM "
    "jobs ";

std::string JobName(std::int64_t id) { return absl::StrCat("j-", id); }

bool IsOpenJob(v1::JobState state) {
  return state == v1::JOB_STATE_QUEUED || state == v1::JOB_STATE_RUNNING;
}

absl::StatusOr<JobRow> ReadJobRow(const SqlStatement& row) {
  JobRow result;
  result.id = row.Integer(0);
  v1::Job& job = result.attempt.job;
  job.set_name(JobName(result.id));
  job.set_state(static_cast<v1::JobState>(row.Integer(1)));
  bool is_whole = job.mutable_order()->ParseFromString(row.Bytes(2));
  job.set_requester(row.Bytes(3));
  job.set_attempt(static_cast<int>(row.Integer(4)));
  if (!row.IsNull(5)) {
    is_whole = job.mutable_progress()->ParseFromString(row.Bytes(5)) && is_whole;
  }
  job.set_gait(row.Bytes(6));
  job.set_failure_reason(row.Bytes(7));
  *job.mutable_create_time() = TimestampOf(row.Integer(8));
  *job.mutable_update_time() = TimestampOf(row.Integer(9));
  result.attempt.key = row.Bytes(10);
  result.attempt.robot_digest = row.Bytes(11);
  result.attempt.surface_digest = row.Bytes(12);
  result.is_cancel_requested = row.Integer(13) != 0;
  result.crash_count = row.Integer(14);
  if (!is_whole) {
    return absl::DataLossError(absl::StrCat("stored job '", job.name(), "' cannot be read back"));
  }
  return result;
}

absl::StatusOr<JobRow> ReadJob(SqlConnection* connection, const std::string& name) {
  return FindJob(connection, name, "");
}

absl::StatusOr<JobRow> LockJob(SqlConnection* connection, const std::string& name) {
  return FindJob(connection, name, connection->row_lock());
}

absl::Status ReadCheckpoint(SqlConnection* connection, JobRow* row) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement query,
      connection->Prepare("SELECT body FROM job_checkpoints WHERE job_id = ?1"));
  GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, query.BindInteger(row->id).Step());
  if (has_row && !row->attempt.checkpoint.emplace().ParseFromString(query.Bytes(0))) {
    return absl::DataLossError(absl::StrCat(
        "stored checkpoint of job '", row->attempt.job.name(), "' cannot be read back"));
  }
  return absl::OkStatus();
}

absl::Status EndJob(SqlConnection* connection, std::int64_t id, const JobEnd& end) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement update,
      connection->Prepare("UPDATE jobs SET state = ?1, failure_reason = ?2, gait = ?3, "
                          "update_us = ?4 WHERE id = ?5"));
  update.BindInteger(end.state).BindText(end.failure_reason).BindText(end.gait);
  GAITSHELF_RETURN_IF_ERROR(update.BindInteger(NowUs()).BindInteger(id).Run().status());
  return DropCheckpoint(connection, id);
}

}  // namespace gaitshelf::service
