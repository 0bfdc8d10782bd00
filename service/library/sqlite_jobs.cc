// Jobs in the embedded library. Every change by a worker or dispatcher is one statement or one
// transaction that names the attempt, so that whoever comes late changes nothing.
#include <utility>

#include "absl/strings/match.h"
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "service/library/sqlite_store.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

constexpr char kJobColumns[] =
    "SELECT id, state, gait_order, requester, attempt, progress, gait, failure_reason, create_us, "
    "update_us, order_key, robot_digest, surface_digest, is_cancel_requested, crash_count FROM "
    "jobs ";

// One row of the table.
struct JobRow {
  std::int64_t id = 0;
  JobAttempt attempt;
  bool is_cancel_requested = false;
  std::int64_t crash_count = 0;
};

std::string JobName(std::int64_t id) { return absl::StrCat("j-", id); }

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

bool IsOpen(v1::JobState state) {
  return state == v1::JOB_STATE_QUEUED || state == v1::JOB_STATE_RUNNING;
}

absl::StatusOr<JobRow> ReadRow(const SqliteStatement& row) {
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

absl::StatusOr<JobRow> ReadJob(SqliteConnection* connection, const std::string& name) {
  GAITSHELF_ASSIGN_OR_RETURN(const std::int64_t id, JobId(name));
  GAITSHELF_ASSIGN_OR_RETURN(SqliteStatement query,
                             connection->Prepare(absl::StrCat(kJobColumns, "WHERE id = ?1")));
  GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, query.BindInteger(id).Step());
  if (!has_row) {
    return NoJob(name);
  }
  return ReadRow(query);
}

// Reads a job and refuses a fence that is not that of its running attempt.
absl::StatusOr<JobRow> ReadFenced(SqliteConnection* connection, const JobFence& fence) {
  GAITSHELF_ASSIGN_OR_RETURN(JobRow row, ReadJob(connection, fence.job));
  const v1::Job& job = row.attempt.job;
  if (job.state() != v1::JOB_STATE_RUNNING || job.attempt() != fence.attempt) {
    return absl::AbortedError(absl::StrCat("attempt ",
                                           fence.attempt,
                                           " of job '",
                                           fence.job,
                                           "' is no longer the running one: the job is ",
                                           v1::JobState_Name(job.state()),
                                           " at attempt ",
                                           job.attempt()));
  }
  return row;
}

absl::Status ReadCheckpoint(SqliteConnection* connection, JobRow* row) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqliteStatement query,
      connection->Prepare("SELECT body FROM job_checkpoints WHERE job_id = ?1"));
  GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, query.BindInteger(row->id).Step());
  if (has_row && !row->attempt.checkpoint.emplace().ParseFromString(query.Bytes(0))) {
    return absl::DataLossError(absl::StrCat(
        "stored checkpoint of job '", row->attempt.job.name(), "' cannot be read back"));
  }
  return absl::OkStatus();
}

absl::Status DropCheckpoint(SqliteConnection* connection, std::int64_t id) {
  GAITSHELF_ASSIGN_OR_RETURN(SqliteStatement remove,
                             connection->Prepare("DELETE FROM job_checkpoints WHERE job_id = ?1"));
  return remove.BindInteger(id).Run().status();
}

// Ends a job, whatever its state.
absl::Status EndJob(SqliteConnection* connection, std::int64_t id, const JobEnd& end) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqliteStatement update,
      connection->Prepare("UPDATE jobs SET state = ?1, failure_reason = ?2, gait = ?3, "
                          "update_us = ?4 WHERE id = ?5"));
  update.BindInteger(end.state).BindText(end.failure_reason).BindText(end.gait);
  GAITSHELF_RETURN_IF_ERROR(update.BindInteger(NowUs()).BindInteger(id).Run().status());
  return DropCheckpoint(connection, id);
}

absl::StatusOr<std::optional<JobRow>> FindOpenJob(SqliteConnection* connection,
                                                  const std::string& key) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqliteStatement query,
      connection->Prepare(absl::StrCat(
          kJobColumns, "WHERE order_key = ?1 AND state IN (1, 2) AND is_cancel_requested = 0")));
  GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, query.BindText(key).Step());
  if (!has_row) {
    return std::optional<JobRow>();
  }
  GAITSHELF_ASSIGN_OR_RETURN(JobRow row, ReadRow(query));
  return std::optional<JobRow>(std::move(row));
}

absl::StatusOr<std::string> InsertJob(SqliteConnection* connection, const JobOrder& order) {
  const std::int64_t now_us = NowUs();
  GAITSHELF_ASSIGN_OR_RETURN(
      SqliteStatement insert,
      connection->Prepare(
          "INSERT INTO jobs (order_key, state, gait_order, robot_digest, surface_digest, "
          "requester, create_us, update_us) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)"));
  insert.BindText(order.key).BindInteger(v1::JOB_STATE_QUEUED);
  insert.BindBytes(order.order.SerializeAsString());
  insert.BindText(order.robot_digest).BindText(order.surface_digest).BindText(order.requester);
  insert.BindInteger(now_us).BindInteger(now_us);
  GAITSHELF_RETURN_IF_ERROR(insert.Run().status());
  return JobName(connection->LastInsertId());
}

}  // namespace

absl::StatusOr<OrderedJob> SqliteStore::OrderJob(const JobOrder& order) {
  if (order.key.empty()) {
    return absl::InvalidArgumentError("a job needs a key");
  }
  const std::lock_guard<std::mutex> lock(write_mutex_);
  GAITSHELF_ASSIGN_OR_RETURN(SqliteTransaction transaction,
                             SqliteTransaction::Begin(writer_.get()));
  GAITSHELF_ASSIGN_OR_RETURN(std::optional<JobRow> open, FindOpenJob(writer_.get(), order.key));
  if (open.has_value()) {
    return OrderedJob{.job = std::move(open->attempt.job), .joined = true};
  }
  GAITSHELF_ASSIGN_OR_RETURN(
      const std::int64_t open_count,
      writer_->QueryInteger("SELECT count(*) FROM jobs WHERE state IN (1, 2)"));
  if (open_count >= options_.queue_limit) {
    return absl::ResourceExhaustedError(absl::StrCat("the queue is full: ",
                                                     open_count,
                                                     " jobs wait or run, allowed are ",
                                                     options_.queue_limit,
                                                     "; ask again when some have ended"));
  }
  GAITSHELF_ASSIGN_OR_RETURN(const std::string name, InsertJob(writer_.get(), order));
  GAITSHELF_ASSIGN_OR_RETURN(JobRow row, ReadJob(writer_.get(), name));
  GAITSHELF_RETURN_IF_ERROR(transaction.Commit());
  return OrderedJob{.job = std::move(row.attempt.job), .joined = false};
}

absl::StatusOr<v1::Job> SqliteStore::GetJob(const std::string& name) {
  const std::lock_guard<std::mutex> lock(read_mutex_);
  GAITSHELF_ASSIGN_OR_RETURN(JobRow row, ReadJob(reader_.get(), name));
  return std::move(row.attempt.job);
}

absl::StatusOr<JobPage> SqliteStore::ListJobs(bool only_open, const PageRequest& page) {
  GAITSHELF_ASSIGN_OR_RETURN(const PageBounds bounds, ReadPageRequest(page));
  const std::lock_guard<std::mutex> lock(read_mutex_);
  GAITSHELF_ASSIGN_OR_RETURN(
      SqliteStatement query,
      reader_->Prepare(absl::StrCat(
          kJobColumns, "WHERE (?1 = 0 OR state IN (1, 2)) AND id < ?2 ORDER BY id DESC LIMIT ?3")));
  query.BindInteger(only_open ? 1 : 0);
  // One more than asked for tells whether there is a next page.
  query.BindInteger(bounds.below_id).BindInteger(bounds.size + 1);
  JobPage result;
  std::int64_t last_id = 0;
  GAITSHELF_ASSIGN_OR_RETURN(bool has_row, query.Step());
  while (has_row) {
    if (static_cast<std::int64_t>(result.jobs.size()) == bounds.size) {
      result.next_page_token = absl::StrCat(last_id);
      break;
    }
    GAITSHELF_ASSIGN_OR_RETURN(JobRow row, ReadRow(query));
    last_id = row.id;
    result.jobs.push_back(std::move(row.attempt.job));
    GAITSHELF_ASSIGN_OR_RETURN(has_row, query.Step());
  }
  return result;
}

absl::StatusOr<v1::Job> SqliteStore::RequestCancel(const std::string& name) {
  const std::lock_guard<std::mutex> lock(write_mutex_);
  GAITSHELF_ASSIGN_OR_RETURN(SqliteTransaction transaction,
                             SqliteTransaction::Begin(writer_.get()));
  GAITSHELF_ASSIGN_OR_RETURN(JobRow row, ReadJob(writer_.get(), name));
  const v1::JobState state = row.attempt.job.state();
  if (!IsOpen(state)) {
    return absl::FailedPreconditionError(absl::StrCat(
        "job '", name, "' has ended as ", v1::JobState_Name(state), " and cannot be cancelled"));
  }
  if (state == v1::JOB_STATE_QUEUED) {
    GAITSHELF_RETURN_IF_ERROR(
        EndJob(writer_.get(), row.id, JobEnd{.state = v1::JOB_STATE_CANCELLED}));
  } else {
    GAITSHELF_ASSIGN_OR_RETURN(
        SqliteStatement update,
        writer_->Prepare("UPDATE jobs SET is_cancel_requested = 1, update_us = ?1 WHERE id = ?2"));
    GAITSHELF_RETURN_IF_ERROR(update.BindInteger(NowUs()).BindInteger(row.id).Run().status());
  }
  GAITSHELF_ASSIGN_OR_RETURN(row, ReadJob(writer_.get(), name));
  GAITSHELF_RETURN_IF_ERROR(transaction.Commit());
  return std::move(row.attempt.job);
}

absl::StatusOr<std::optional<JobAttempt>> SqliteStore::ClaimNextJob(const std::string& owner) {
  const std::lock_guard<std::mutex> lock(write_mutex_);
  GAITSHELF_ASSIGN_OR_RETURN(SqliteTransaction transaction,
                             SqliteTransaction::Begin(writer_.get()));
  std::int64_t id = 0;
  {
    // A job that has crashed before stands behind the others, so that it cannot hold them up.
    GAITSHELF_ASSIGN_OR_RETURN(
        SqliteStatement next,
        writer_->Prepare("SELECT id FROM jobs WHERE state = 1 ORDER BY crash_count, id LIMIT 1"));
    GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, next.Step());
    if (!has_row) {
      return std::optional<JobAttempt>();
    }
    id = next.Integer(0);
  }
  {
    GAITSHELF_ASSIGN_OR_RETURN(
        SqliteStatement claim,
        writer_->Prepare("UPDATE jobs SET state = 2, attempt = attempt + 1, owner = ?1, "
                         "heartbeat_us = ?2, update_us = ?2 WHERE id = ?3"));
    GAITSHELF_RETURN_IF_ERROR(
        claim.BindText(owner).BindInteger(NowUs()).BindInteger(id).Run().status());
  }
  GAITSHELF_ASSIGN_OR_RETURN(JobRow row, ReadJob(writer_.get(), JobName(id)));
  GAITSHELF_RETURN_IF_ERROR(ReadCheckpoint(writer_.get(), &row));
  GAITSHELF_RETURN_IF_ERROR(transaction.Commit());
  return std::optional<JobAttempt>(std::move(row.attempt));
}

absl::StatusOr<std::vector<RunningJob>> SqliteStore::ListRunningJobs() {
  const std::lock_guard<std::mutex> lock(read_mutex_);
  GAITSHELF_ASSIGN_OR_RETURN(
      SqliteStatement query,
      reader_->Prepare("SELECT id, attempt, owner, heartbeat_us, is_cancel_requested FROM jobs "
                       "WHERE state = 2 ORDER BY id"));
  std::vector<RunningJob> running;
  GAITSHELF_ASSIGN_OR_RETURN(bool has_row, query.Step());
  while (has_row) {
    running.push_back(RunningJob{
        .fence = {.job = JobName(query.Integer(0)), .attempt = static_cast<int>(query.Integer(1))},
        .owner = query.Bytes(2),
        .heartbeat_us = query.Integer(3),
        .is_cancel_requested = query.Integer(4) != 0});
    GAITSHELF_ASSIGN_OR_RETURN(has_row, query.Step());
  }
  return running;
}

absl::StatusOr<JobAttempt> SqliteStore::GetAttempt(const JobFence& fence) {
  const std::lock_guard<std::mutex> lock(read_mutex_);
  GAITSHELF_ASSIGN_OR_RETURN(JobRow row, ReadFenced(reader_.get(), fence));
  GAITSHELF_RETURN_IF_ERROR(ReadCheckpoint(reader_.get(), &row));
  return std::move(row.attempt);
}

absl::StatusOr<bool> SqliteStore::IsCancelRequested(const JobFence& fence) {
  const std::lock_guard<std::mutex> lock(read_mutex_);
  GAITSHELF_ASSIGN_OR_RETURN(const JobRow row, ReadFenced(reader_.get(), fence));
  return row.is_cancel_requested;
}

absl::Status SqliteStore::WriteHeartbeat(const JobFence& fence) {
  const std::lock_guard<std::mutex> lock(write_mutex_);
  GAITSHELF_ASSIGN_OR_RETURN(SqliteTransaction transaction,
                             SqliteTransaction::Begin(writer_.get()));
  GAITSHELF_ASSIGN_OR_RETURN(const JobRow row, ReadFenced(writer_.get(), fence));
  GAITSHELF_ASSIGN_OR_RETURN(SqliteStatement update,
                             writer_->Prepare("UPDATE jobs SET heartbeat_us = ?1 WHERE id = ?2"));
  GAITSHELF_RETURN_IF_ERROR(update.BindInteger(NowUs()).BindInteger(row.id).Run().status());
  return transaction.Commit();
}

absl::Status SqliteStore::WriteProgress(const JobFence& fence, const v1::PlanProgress& progress) {
  const std::lock_guard<std::mutex> lock(write_mutex_);
  GAITSHELF_ASSIGN_OR_RETURN(SqliteTransaction transaction,
                             SqliteTransaction::Begin(writer_.get()));
  GAITSHELF_ASSIGN_OR_RETURN(const JobRow row, ReadFenced(writer_.get(), fence));
  GAITSHELF_ASSIGN_OR_RETURN(
      SqliteStatement update,
      writer_->Prepare(
          "UPDATE jobs SET progress = ?1, heartbeat_us = ?2, update_us = ?2 WHERE id = ?3"));
  update.BindBytes(progress.SerializeAsString()).BindInteger(NowUs()).BindInteger(row.id);
  GAITSHELF_RETURN_IF_ERROR(update.Run().status());
  return transaction.Commit();
}

absl::Status SqliteStore::WriteCheckpoint(const JobFence& fence,
                                          const v1::PlanCheckpoint& checkpoint) {
  const std::lock_guard<std::mutex> lock(write_mutex_);
  GAITSHELF_ASSIGN_OR_RETURN(SqliteTransaction transaction,
                             SqliteTransaction::Begin(writer_.get()));
  GAITSHELF_ASSIGN_OR_RETURN(const JobRow row, ReadFenced(writer_.get(), fence));
  GAITSHELF_ASSIGN_OR_RETURN(
      SqliteStatement insert,
      writer_->Prepare("INSERT OR REPLACE INTO job_checkpoints (job_id, body) VALUES (?1, ?2)"));
  insert.BindInteger(row.id).BindBytes(checkpoint.SerializeAsString());
  GAITSHELF_RETURN_IF_ERROR(insert.Run().status());
  GAITSHELF_ASSIGN_OR_RETURN(SqliteStatement update,
                             writer_->Prepare("UPDATE jobs SET heartbeat_us = ?1 WHERE id = ?2"));
  GAITSHELF_RETURN_IF_ERROR(update.BindInteger(NowUs()).BindInteger(row.id).Run().status());
  return transaction.Commit();
}

absl::StatusOr<v1::Job> SqliteStore::FinishJob(const JobFence& fence, const JobEnd& end) {
  if (IsOpen(end.state) || end.state == v1::JOB_STATE_UNSPECIFIED ||
      (end.state == v1::JOB_STATE_FAILED && end.failure_reason.empty())) {
    return absl::InvalidArgumentError(
        absl::StrCat("a job cannot end as ",
                     v1::JobState_Name(end.state),
                     " with the reason '",
                     end.failure_reason,
                     "'; it ends done, cancelled, or failed with a reason"));
  }
  const std::lock_guard<std::mutex> lock(write_mutex_);
  GAITSHELF_ASSIGN_OR_RETURN(SqliteTransaction transaction,
                             SqliteTransaction::Begin(writer_.get()));
  GAITSHELF_ASSIGN_OR_RETURN(JobRow row, ReadFenced(writer_.get(), fence));
  GAITSHELF_RETURN_IF_ERROR(EndJob(writer_.get(), row.id, end));
  GAITSHELF_ASSIGN_OR_RETURN(row, ReadJob(writer_.get(), fence.job));
  GAITSHELF_RETURN_IF_ERROR(transaction.Commit());
  return std::move(row.attempt.job);
}

absl::StatusOr<v1::Job> SqliteStore::RequeueLostJob(const JobFence& fence, const JobLoss& loss) {
  const std::lock_guard<std::mutex> lock(write_mutex_);
  GAITSHELF_ASSIGN_OR_RETURN(SqliteTransaction transaction,
                             SqliteTransaction::Begin(writer_.get()));
  GAITSHELF_ASSIGN_OR_RETURN(JobRow row, ReadFenced(writer_.get(), fence));
  const std::int64_t crash_count = row.crash_count + (loss.is_crash ? 1 : 0);
  {
    GAITSHELF_ASSIGN_OR_RETURN(
        SqliteStatement update,
        writer_->Prepare("UPDATE jobs SET state = 1, crash_count = ?1, owner = '', update_us = ?2 "
                         "WHERE id = ?3"));
    update.BindInteger(crash_count).BindInteger(NowUs()).BindInteger(row.id);
    GAITSHELF_RETURN_IF_ERROR(update.Run().status());
  }
  if (row.is_cancel_requested) {
    GAITSHELF_RETURN_IF_ERROR(
        EndJob(writer_.get(), row.id, JobEnd{.state = v1::JOB_STATE_CANCELLED}));
  } else if (crash_count >= options_.crash_limit) {
    GAITSHELF_RETURN_IF_ERROR(EndJob(
        writer_.get(),
        row.id,
        JobEnd{.state = v1::JOB_STATE_FAILED,
               .failure_reason = absl::StrCat(
                   "the worker was lost ", crash_count, " times, the last time: ", loss.reason)}));
  }
  GAITSHELF_ASSIGN_OR_RETURN(row, ReadJob(writer_.get(), fence.job));
  GAITSHELF_RETURN_IF_ERROR(transaction.Commit());
  return std::move(row.attempt.job);
}

}  // namespace gaitshelf::service
