// Jobs in the library's tables as dispatcher and worker see them. Every change is one transaction
// that looks at the attempt first, so that whoever comes late changes nothing.
#include <utility>

#include "absl/strings/str_cat.h"
#include "service/library/sql_job_rows.h"
#include "service/library/sql_queue.h"
#include "service/library/sql_store.h"
#include "service/library/sql_surfaces.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

// A sign of life is another value each time and grows, also while the clock stands still or goes
// back: whoever looks for signs sees only that it has changed.
constexpr char kBeat[] =
    "heartbeat_us = CASE WHEN heartbeat_us < ?1 THEN ?1 ELSE heartbeat_us + 1 END";

// Refuses a fence that is not that of the job's running attempt.
absl::Status CheckFence(const JobFence& fence, const JobRow& row) {
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
  return absl::OkStatus();
}

absl::StatusOr<JobRow> ReadFencedJob(SqlConnection* connection, const JobFence& fence) {
  GAITSHELF_ASSIGN_OR_RETURN(JobRow row, ReadJob(connection, fence.job));
  GAITSHELF_RETURN_IF_ERROR(CheckFence(fence, row));
  return row;
}

absl::StatusOr<JobRow> LockFencedJob(SqlConnection* connection, const JobFence& fence) {
  GAITSHELF_ASSIGN_OR_RETURN(JobRow row, LockJob(connection, fence.job));
  GAITSHELF_RETURN_IF_ERROR(CheckFence(fence, row));
  return row;
}

// Makes a locked queued job running, with its next attempt number.
absl::StatusOr<JobAttempt> StartAttempt(SqlConnection* connection,
                                        std::int64_t id,
                                        const std::string& owner) {
  {
    GAITSHELF_ASSIGN_OR_RETURN(
        SqlStatement claim,
        connection->Prepare("UPDATE jobs SET state = 2, attempt = attempt + 1, owner = ?1, "
                            "heartbeat_us = ?2, update_us = ?2 WHERE id = ?3"));
    GAITSHELF_RETURN_IF_ERROR(
        claim.BindText(owner).BindInteger(NowUs()).BindInteger(id).Run().status());
  }
  const std::string name = JobName(id);
  GAITSHELF_RETURN_IF_ERROR(connection->Announce(name));
  GAITSHELF_ASSIGN_OR_RETURN(JobRow row, ReadJob(connection, name));
  GAITSHELF_RETURN_IF_ERROR(ReadCheckpoint(connection, &row));
  return std::move(row.attempt);
}

absl::Status SetHeartbeat(SqlConnection* connection, std::int64_t id) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement update,
      connection->Prepare(absl::StrCat("UPDATE jobs SET ", kBeat, " WHERE id = ?2")));
  return update.BindInteger(NowUs()).BindInteger(id).Run().status();
}

// Puts a job back into the queue, or ends it when that was wanted or it has crashed too often.
absl::Status QueueAgain(SqlConnection* connection,
                        const JobRow& row,
                        const JobLoss& loss,
                        int crash_limit) {
  const std::int64_t crash_count = row.crash_count + (loss.is_crash ? 1 : 0);
  {
    GAITSHELF_ASSIGN_OR_RETURN(
        SqlStatement update,
        connection->Prepare("UPDATE jobs SET state = 1, crash_count = ?1, owner = '', "
                            "update_us = ?2 WHERE id = ?3"));
    update.BindInteger(crash_count).BindInteger(NowUs()).BindInteger(row.id);
    GAITSHELF_RETURN_IF_ERROR(update.Run().status());
  }
  if (row.is_cancel_requested) {
    return EndJob(connection, row.id, JobEnd{.state = v1::JOB_STATE_CANCELLED});
  }
  if (crash_count >= crash_limit) {
    return EndJob(
        connection,
        row.id,
        JobEnd{.state = v1::JOB_STATE_FAILED,
               .failure_reason = absl::StrCat(
                   "the worker was lost ", crash_count, " times, the last time: ", loss.reason)});
  }
  return absl::OkStatus();
}

}  // namespace

absl::StatusOr<std::optional<JobAttempt>> SqlStore::ClaimNextJob(const std::string& owner) {
  using Claim = std::optional<JobAttempt>;
  return Write(WriteScope::kRows, [&](SqlConnection* connection) -> absl::StatusOr<Claim> {
    std::int64_t id = 0;
    {
      GAITSHELF_ASSIGN_OR_RETURN(
          SqlStatement next,
          connection->Prepare(absl::StrCat("SELECT id FROM jobs WHERE state = 1",
                                           kQueueOrder,
                                           " LIMIT 1",
                                           connection->free_row_lock())));
      GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, next.Step());
      if (!has_row) {
        return Claim();
      }
      id = next.Integer(0);
    }
    GAITSHELF_ASSIGN_OR_RETURN(JobAttempt attempt, StartAttempt(connection, id, owner));
    return Claim(std::move(attempt));
  });
}

absl::StatusOr<JobAttempt> SqlStore::ClaimJob(const std::string& name, const std::string& owner) {
  return Write(WriteScope::kRows, [&](SqlConnection* connection) -> absl::StatusOr<JobAttempt> {
    GAITSHELF_ASSIGN_OR_RETURN(const JobRow row, LockJob(connection, name));
    if (row.attempt.job.state() != v1::JOB_STATE_QUEUED) {
      return absl::AbortedError(absl::StrCat("job '",
                                             name,
                                             "' does not wait: it is ",
                                             v1::JobState_Name(row.attempt.job.state()),
                                             " at attempt ",
                                             row.attempt.job.attempt()));
    }
    return StartAttempt(connection, row.id, owner);
  });
}

absl::StatusOr<std::vector<std::string>> SqlStore::ListQueuedJobs(int limit) {
  using Names = std::vector<std::string>;
  return Read([&](SqlConnection* connection) -> absl::StatusOr<Names> {
    GAITSHELF_ASSIGN_OR_RETURN(
        SqlStatement query,
        connection->Prepare(
            absl::StrCat("SELECT id FROM jobs WHERE state = 1", kQueueOrder, " LIMIT ?1")));
    query.BindInteger(limit);
    Names names;
    GAITSHELF_ASSIGN_OR_RETURN(bool has_row, query.Step());
    while (has_row) {
      names.push_back(JobName(query.Integer(0)));
      GAITSHELF_ASSIGN_OR_RETURN(has_row, query.Step());
    }
    return names;
  });
}

absl::StatusOr<std::vector<RunningJob>> SqlStore::ListRunningJobs() {
  using Jobs = std::vector<RunningJob>;
  return Read([](SqlConnection* connection) -> absl::StatusOr<Jobs> {
    GAITSHELF_ASSIGN_OR_RETURN(
        SqlStatement query,
        connection->Prepare("SELECT id, attempt, owner, heartbeat_us, is_cancel_requested FROM "
                            "jobs WHERE state = 2 ORDER BY id"));
    Jobs running;
    GAITSHELF_ASSIGN_OR_RETURN(bool has_row, query.Step());
    while (has_row) {
      running.push_back(RunningJob{.fence = {.job = JobName(query.Integer(0)),
                                             .attempt = static_cast<int>(query.Integer(1))},
                                   .owner = query.Bytes(2),
                                   .heartbeat_us = query.Integer(3),
                                   .is_cancel_requested = query.Integer(4) != 0});
      GAITSHELF_ASSIGN_OR_RETURN(has_row, query.Step());
    }
    return running;
  });
}

absl::StatusOr<JobAttempt> SqlStore::GetAttempt(const JobFence& fence) {
  return Read([&](SqlConnection* connection) -> absl::StatusOr<JobAttempt> {
    GAITSHELF_ASSIGN_OR_RETURN(JobRow row, ReadFencedJob(connection, fence));
    GAITSHELF_RETURN_IF_ERROR(ReadCheckpoint(connection, &row));
    GAITSHELF_ASSIGN_OR_RETURN(row.attempt.also_on, ReadJobSurfaces(connection, row.id));
    return std::move(row.attempt);
  });
}

absl::StatusOr<bool> SqlStore::IsCancelRequested(const JobFence& fence) {
  return Read([&](SqlConnection* connection) -> absl::StatusOr<bool> {
    GAITSHELF_ASSIGN_OR_RETURN(const JobRow row, ReadFencedJob(connection, fence));
    return row.is_cancel_requested;
  });
}

absl::Status SqlStore::WriteHeartbeat(const JobFence& fence) {
  return Write(WriteScope::kRows, [&](SqlConnection* connection) -> absl::Status {
    GAITSHELF_ASSIGN_OR_RETURN(const JobRow row, LockFencedJob(connection, fence));
    return SetHeartbeat(connection, row.id);
  });
}

absl::Status SqlStore::WriteProgress(const JobFence& fence, const v1::PlanProgress& progress) {
  return Write(WriteScope::kRows, [&](SqlConnection* connection) -> absl::Status {
    GAITSHELF_ASSIGN_OR_RETURN(const JobRow row, LockFencedJob(connection, fence));
    GAITSHELF_ASSIGN_OR_RETURN(
        SqlStatement update,
        connection->Prepare(absl::StrCat(
            "UPDATE jobs SET ", kBeat, ", update_us = ?1, progress = ?2 WHERE id = ?3")));
    update.BindInteger(NowUs()).BindBytes(progress.SerializeAsString()).BindInteger(row.id);
    GAITSHELF_RETURN_IF_ERROR(update.Run().status());
    return connection->Announce(fence.job);
  });
}

absl::Status SqlStore::WriteCheckpoint(const JobFence& fence,
                                       const v1::PlanCheckpoint& checkpoint) {
  return Write(WriteScope::kRows, [&](SqlConnection* connection) -> absl::Status {
    GAITSHELF_ASSIGN_OR_RETURN(const JobRow row, LockFencedJob(connection, fence));
    GAITSHELF_ASSIGN_OR_RETURN(
        SqlStatement insert,
        connection->Prepare("INSERT INTO job_checkpoints (job_id, body) VALUES (?1, ?2) "
                            "ON CONFLICT (job_id) DO UPDATE SET body = excluded.body"));
    insert.BindInteger(row.id).BindBytes(checkpoint.SerializeAsString());
    GAITSHELF_RETURN_IF_ERROR(insert.Run().status());
    return SetHeartbeat(connection, row.id);
  });
}

absl::StatusOr<v1::Job> SqlStore::FinishJob(const JobFence& fence, const JobEnd& end) {
  if (IsOpenJob(end.state) || end.state == v1::JOB_STATE_UNSPECIFIED ||
      (end.state == v1::JOB_STATE_FAILED && end.failure_reason.empty())) {
    return absl::InvalidArgumentError(
        absl::StrCat("a job cannot end as ",
                     v1::JobState_Name(end.state),
                     " with the reason '",
                     end.failure_reason,
                     "'; it ends done, cancelled, or failed with a reason"));
  }
  return Write(WriteScope::kRows, [&](SqlConnection* connection) -> absl::StatusOr<v1::Job> {
    GAITSHELF_ASSIGN_OR_RETURN(JobRow row, LockFencedJob(connection, fence));
    GAITSHELF_RETURN_IF_ERROR(EndJob(connection, row.id, end));
    GAITSHELF_RETURN_IF_ERROR(connection->Announce(fence.job));
    GAITSHELF_ASSIGN_OR_RETURN(row, ReadJob(connection, fence.job));
    return std::move(row.attempt.job);
  });
}

absl::StatusOr<v1::Job> SqlStore::RequeueLostJob(const JobFence& fence, const JobLoss& loss) {
  return Write(WriteScope::kRows, [&](SqlConnection* connection) -> absl::StatusOr<v1::Job> {
    GAITSHELF_ASSIGN_OR_RETURN(JobRow row, LockFencedJob(connection, fence));
    GAITSHELF_RETURN_IF_ERROR(QueueAgain(connection, row, loss, options_.crash_limit));
    GAITSHELF_RETURN_IF_ERROR(connection->Announce(fence.job));
    GAITSHELF_ASSIGN_OR_RETURN(row, ReadJob(connection, fence.job));
    return std::move(row.attempt.job);
  });
}

}  // namespace gaitshelf::service
