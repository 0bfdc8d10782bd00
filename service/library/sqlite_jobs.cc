// Jobs in the embedded library as their users see them.
#include <utility>

#include "absl/strings/str_cat.h"
#include "service/library/sqlite_changes.h"
#include "service/library/sqlite_job_rows.h"
#include "service/library/sqlite_store.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

absl::StatusOr<std::optional<SqliteJobRow>> FindOpenJob(SqliteConnection* connection,
                                                        const std::string& key) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqliteStatement query,
      connection->Prepare(
          absl::StrCat(kSqliteJobColumns,
                       "WHERE order_key = ?1 AND state IN (1, 2) AND is_cancel_requested = 0")));
  GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, query.BindText(key).Step());
  if (!has_row) {
    return std::optional<SqliteJobRow>();
  }
  GAITSHELF_ASSIGN_OR_RETURN(SqliteJobRow row, ReadSqliteJobRow(query));
  return std::optional<SqliteJobRow>(std::move(row));
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
  return SqliteJobName(connection->LastInsertId());
}

}  // namespace

absl::StatusOr<OrderedJob> SqliteStore::OrderJob(const JobOrder& order) {
  if (order.key.empty()) {
    return absl::InvalidArgumentError("a job needs a key");
  }
  const std::lock_guard<std::mutex> lock(write_mutex_);
  GAITSHELF_ASSIGN_OR_RETURN(SqliteTransaction transaction,
                             SqliteTransaction::Begin(writer_.get()));
  GAITSHELF_ASSIGN_OR_RETURN(std::optional<SqliteJobRow> open,
                             FindOpenJob(writer_.get(), order.key));
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
  GAITSHELF_RETURN_IF_ERROR(AddSqliteChange(
      writer_.get(),
      {.requester = order.requester,
       .kind = v1::CHANGE_KIND_ORDER_JOB,
       .subject = name,
       .detail = absl::StrCat(order.order.robot(), " on ", order.order.surface())}));
  GAITSHELF_ASSIGN_OR_RETURN(SqliteJobRow row, ReadSqliteJob(writer_.get(), name));
  GAITSHELF_RETURN_IF_ERROR(transaction.Commit());
  return OrderedJob{.job = std::move(row.attempt.job), .joined = false};
}

absl::StatusOr<v1::Job> SqliteStore::GetJob(const std::string& name) {
  const std::lock_guard<std::mutex> lock(read_mutex_);
  GAITSHELF_ASSIGN_OR_RETURN(SqliteJobRow row, ReadSqliteJob(reader_.get(), name));
  return std::move(row.attempt.job);
}

absl::StatusOr<JobPage> SqliteStore::ListJobs(bool only_open, const PageRequest& page) {
  GAITSHELF_ASSIGN_OR_RETURN(const PageBounds bounds, ReadPageRequest(page));
  const std::lock_guard<std::mutex> lock(read_mutex_);
  GAITSHELF_ASSIGN_OR_RETURN(
      SqliteStatement query,
      reader_->Prepare(
          absl::StrCat(kSqliteJobColumns,
                       "WHERE (?1 = 0 OR state IN (1, 2)) AND id < ?2 ORDER BY id DESC LIMIT ?3")));
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
    GAITSHELF_ASSIGN_OR_RETURN(SqliteJobRow row, ReadSqliteJobRow(query));
    last_id = row.id;
    result.jobs.push_back(std::move(row.attempt.job));
    GAITSHELF_ASSIGN_OR_RETURN(has_row, query.Step());
  }
  return result;
}

absl::StatusOr<v1::Job> SqliteStore::RequestCancel(const std::string& name,
                                                   const std::string& requester) {
  const std::lock_guard<std::mutex> lock(write_mutex_);
  GAITSHELF_ASSIGN_OR_RETURN(SqliteTransaction transaction,
                             SqliteTransaction::Begin(writer_.get()));
  GAITSHELF_ASSIGN_OR_RETURN(SqliteJobRow row, ReadSqliteJob(writer_.get(), name));
  const v1::JobState state = row.attempt.job.state();
  if (!IsOpenJob(state)) {
    return absl::FailedPreconditionError(absl::StrCat(
        "job '", name, "' has ended as ", v1::JobState_Name(state), " and cannot be cancelled"));
  }
  if (state == v1::JOB_STATE_QUEUED) {
    GAITSHELF_RETURN_IF_ERROR(
        EndSqliteJob(writer_.get(), row.id, JobEnd{.state = v1::JOB_STATE_CANCELLED}));
  } else {
    GAITSHELF_ASSIGN_OR_RETURN(
        SqliteStatement update,
        writer_->Prepare("UPDATE jobs SET is_cancel_requested = 1, update_us = ?1 WHERE id = ?2"));
    GAITSHELF_RETURN_IF_ERROR(update.BindInteger(NowUs()).BindInteger(row.id).Run().status());
  }
  GAITSHELF_RETURN_IF_ERROR(AddSqliteChange(
      writer_.get(),
      {.requester = requester, .kind = v1::CHANGE_KIND_CANCEL_JOB, .subject = name, .detail = ""}));
  GAITSHELF_ASSIGN_OR_RETURN(row, ReadSqliteJob(writer_.get(), name));
  GAITSHELF_RETURN_IF_ERROR(transaction.Commit());
  return std::move(row.attempt.job);
}

}  // namespace gaitshelf::service
