// Jobs in the embedded library as dispatcher and worker see them. Every change is one transaction
// that looks at the attempt first, so that whoever comes late changes nothing.
#include <utility>

#include "absl/strings/str_cat.h"
#include "service/library/sqlite_job_rows.h"
#include "service/library/sqlite_store.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

// Reads a job and refuses a fence that is not that of its running attempt.
absl::StatusOr<SqliteJobRow> ReadFencedJob(SqliteConnection* connection, const JobFence& fence) {
  GAITSHELF_ASSIGN_OR_RETURN(SqliteJobRow row, ReadSqliteJob(connection, fence.job));
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

}  // namespace

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
  GAITSHELF_ASSIGN_OR_RETURN(SqliteJobRow row, ReadSqliteJob(writer_.get(), SqliteJobName(id)));
  GAITSHELF_RETURN_IF_ERROR(ReadSqliteCheckpoint(writer_.get(), &row));
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
    running.push_back(RunningJob{.fence = {.job = SqliteJobName(query.Integer(0)),
                                           .attempt = static_cast<int>(query.Integer(1))},
                                 .owner = query.Bytes(2),
                                 .heartbeat_us = query.Integer(3),
                                 .is_cancel_requested = query.Integer(4) != 0});
    GAITSHELF_ASSIGN_OR_RETURN(has_row, query.Step());
  }
  return running;
}

absl::StatusOr<JobAttempt> SqliteStore::GetAttempt(const JobFence& fence) {
  const std::lock_guard<std::mutex> lock(read_mutex_);
  GAITSHELF_ASSIGN_OR_RETURN(SqliteJobRow row, ReadFencedJob(reader_.get(), fence));
  GAITSHELF_RETURN_IF_ERROR(ReadSqliteCheckpoint(reader_.get(), &row));
  return std::move(row.attempt);
}

absl::StatusOr<bool> SqliteStore::IsCancelRequested(const JobFence& fence) {
  const std::lock_guard<std::mutex> lock(read_mutex_);
  GAITSHELF_ASSIGN_OR_RETURN(const SqliteJobRow row, ReadFencedJob(reader_.get(), fence));
  return row.is_cancel_requested;
}

absl::Status SqliteStore::WriteHeartbeat(const JobFence& fence) {
  const std::lock_guard<std::mutex> lock(write_mutex_);
  GAITSHELF_ASSIGN_OR_RETURN(SqliteTransaction transaction,
                             SqliteTransaction::Begin(writer_.get()));
  GAITSHELF_ASSIGN_OR_RETURN(const SqliteJobRow row, ReadFencedJob(writer_.get(), fence));
  GAITSHELF_ASSIGN_OR_RETURN(SqliteStatement update,
                             writer_->Prepare("UPDATE jobs SET heartbeat_us = ?1 WHERE id = ?2"));
  GAITSHELF_RETURN_IF_ERROR(update.BindInteger(NowUs()).BindInteger(row.id).Run().status());
  return transaction.Commit();
}

absl::Status SqliteStore::WriteProgress(const JobFence& fence, const v1::PlanProgress& progress) {
  const std::lock_guard<std::mutex> lock(write_mutex_);
  GAITSHELF_ASSIGN_OR_RETURN(SqliteTransaction transaction,
                             SqliteTransaction::Begin(writer_.get()));
  GAITSHELF_ASSIGN_OR_RETURN(const SqliteJobRow row, ReadFencedJob(writer_.get(), fence));
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
  GAITSHELF_ASSIGN_OR_RETURN(const SqliteJobRow row, ReadFencedJob(writer_.get(), fence));
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
  if (IsOpenJob(end.state) || end.state == v1::JOB_STATE_UNSPECIFIED ||
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
  GAITSHELF_ASSIGN_OR_RETURN(SqliteJobRow row, ReadFencedJob(writer_.get(), fence));
  GAITSHELF_RETURN_IF_ERROR(EndSqliteJob(writer_.get(), row.id, end));
  GAITSHELF_ASSIGN_OR_RETURN(row, ReadSqliteJob(writer_.get(), fence.job));
  GAITSHELF_RETURN_IF_ERROR(transaction.Commit());
  return std::move(row.attempt.job);
}

absl::StatusOr<v1::Job> SqliteStore::RequeueLostJob(const JobFence& fence, const JobLoss& loss) {
  const std::lock_guard<std::mutex> lock(write_mutex_);
  GAITSHELF_ASSIGN_OR_RETURN(SqliteTransaction transaction,
                             SqliteTransaction::Begin(writer_.get()));
  GAITSHELF_ASSIGN_OR_RETURN(SqliteJobRow row, ReadFencedJob(writer_.get(), fence));
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
        EndSqliteJob(writer_.get(), row.id, JobEnd{.state = v1::JOB_STATE_CANCELLED}));
  } else if (crash_count >= options_.crash_limit) {
    GAITSHELF_RETURN_IF_ERROR(EndSqliteJob(
        writer_.get(),
        row.id,
        JobEnd{.state = v1::JOB_STATE_FAILED,
               .failure_reason = absl::StrCat(
                   "the worker was lost ", crash_count, " times, the last time: ", loss.reason)}));
  }
  GAITSHELF_ASSIGN_OR_RETURN(row, ReadSqliteJob(writer_.get(), fence.job));
  GAITSHELF_RETURN_IF_ERROR(transaction.Commit());
  return std::move(row.attempt.job);
}

}  // namespace gaitshelf::service
