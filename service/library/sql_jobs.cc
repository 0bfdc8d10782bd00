// Jobs in the library's tables as their users see them.
#include <utility>

#include "absl/strings/str_cat.h"
#include "service/library/sql_changes.h"
#include "service/library/sql_job_rows.h"
#include "service/library/sql_queue.h"
#include "service/library/sql_store.h"
#include "service/library/sql_surfaces.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

absl::StatusOr<std::optional<JobRow>> FindOpenJob(SqlConnection* connection,
                                                  const std::string& key) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement query,
      connection->Prepare(absl::StrCat(
          kJobColumns, "WHERE order_key = ?1 AND state IN (1, 2) AND is_cancel_requested = 0")));
  GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, query.BindText(key).Step());
  if (!has_row) {
    return std::optional<JobRow>();
  }
  GAITSHELF_ASSIGN_OR_RETURN(JobRow row, ReadJobRow(query));
  return std::optional<JobRow>(std::move(row));
}

absl::StatusOr<std::string> InsertJob(SqlConnection* connection,
                                      const JobOrder& order,
                                      std::int64_t turn) {
  const std::int64_t now_us = NowUs();
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement insert,
      connection->Prepare(
          "INSERT INTO jobs (order_key, state, gait_order, robot_digest, surface_digest, "
          "requester, create_us, update_us, turn) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9) "
          "RETURNING id"));
  insert.BindText(order.key).BindInteger(v1::JOB_STATE_QUEUED);
  insert.BindBytes(order.order.SerializeAsString());
  insert.BindText(order.robot_digest).BindText(order.surface_digest).BindText(order.requester);
  insert.BindInteger(now_us).BindInteger(now_us).BindInteger(turn);
  GAITSHELF_RETURN_IF_ERROR(insert.Step().status());
  const std::int64_t id = insert.Integer(0);
  GAITSHELF_RETURN_IF_ERROR(WriteJobSurfaces(connection, id, order.also_on));
  return JobName(id);
}

}  // namespace

absl::StatusOr<OrderedJob> SqlStore::OrderJob(const JobOrder& order) {
  if (order.key.empty()) {
    return absl::InvalidArgumentError("a job needs a key");
  }
  return Write(WriteScope::kLibrary, [&](SqlConnection* connection) -> absl::StatusOr<OrderedJob> {
    GAITSHELF_ASSIGN_OR_RETURN(std::optional<JobRow> open, FindOpenJob(connection, order.key));
    if (open.has_value()) {
      return OrderedJob{.job = std::move(open->attempt.job), .joined = true};
    }
    GAITSHELF_ASSIGN_OR_RETURN(
        const std::int64_t turn,
        FindTurn(connection,
                 order.requester,
                 {.open = options_.queue_limit, .open_per_member = options_.jobs_per_member}));
    GAITSHELF_ASSIGN_OR_RETURN(const std::string name, InsertJob(connection, order, turn));
    GAITSHELF_RETURN_IF_ERROR(
        AddChange(connection,
                  {.requester = order.requester,
                   .kind = v1::CHANGE_KIND_ORDER_JOB,
                   .subject = name,
                   .detail = absl::StrCat(order.order.robot(), " on ", order.order.surface())}));
    GAITSHELF_RETURN_IF_ERROR(connection->Announce(name));
    GAITSHELF_ASSIGN_OR_RETURN(JobRow row, ReadJob(connection, name));
    return OrderedJob{.job = std::move(row.attempt.job), .joined = false};
  });
}

absl::StatusOr<v1::Job> SqlStore::GetJob(const std::string& name) {
  return Read([&](SqlConnection* connection) -> absl::StatusOr<v1::Job> {
    GAITSHELF_ASSIGN_OR_RETURN(JobRow row, ReadJob(connection, name));
    return std::move(row.attempt.job);
  });
}

absl::StatusOr<JobPage> SqlStore::ListJobs(bool only_open, const PageRequest& page) {
  GAITSHELF_ASSIGN_OR_RETURN(const PageBounds bounds, ReadPageRequest(page));
  return Read([&](SqlConnection* connection) -> absl::StatusOr<JobPage> {
    GAITSHELF_ASSIGN_OR_RETURN(
        SqlStatement query,
        connection->Prepare(absl::StrCat(
            kJobColumns,
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
      GAITSHELF_ASSIGN_OR_RETURN(JobRow row, ReadJobRow(query));
      last_id = row.id;
      result.jobs.push_back(std::move(row.attempt.job));
      GAITSHELF_ASSIGN_OR_RETURN(has_row, query.Step());
    }
    return result;
  });
}

absl::StatusOr<v1::Job> SqlStore::RequestCancel(const std::string& name,
                                                const std::string& requester) {
  // The whole library, for turns of other jobs may change with this one.
  return Write(WriteScope::kLibrary, [&](SqlConnection* connection) -> absl::StatusOr<v1::Job> {
    GAITSHELF_ASSIGN_OR_RETURN(JobRow row, LockJob(connection, name));
    const v1::JobState state = row.attempt.job.state();
    if (!IsOpenJob(state)) {
      return absl::FailedPreconditionError(absl::StrCat(
          "job '", name, "' has ended as ", v1::JobState_Name(state), " and cannot be cancelled"));
    }
    if (state == v1::JOB_STATE_QUEUED) {
      GAITSHELF_RETURN_IF_ERROR(
          EndJob(connection, row.id, JobEnd{.state = v1::JOB_STATE_CANCELLED}));
      GAITSHELF_RETURN_IF_ERROR(GiveUpTurn(connection, row.attempt.job.requester(), row.id));
    } else {
      GAITSHELF_ASSIGN_OR_RETURN(
          SqlStatement update,
          connection->Prepare(
              "UPDATE jobs SET is_cancel_requested = 1, update_us = ?1 WHERE id = ?2"));
      GAITSHELF_RETURN_IF_ERROR(update.BindInteger(NowUs()).BindInteger(row.id).Run().status());
    }
    GAITSHELF_RETURN_IF_ERROR(AddChange(connection,
                                        {.requester = requester,
                                         .kind = v1::CHANGE_KIND_CANCEL_JOB,
                                         .subject = name,
                                         .detail = ""}));
    GAITSHELF_RETURN_IF_ERROR(connection->Announce(name));
    GAITSHELF_ASSIGN_OR_RETURN(row, ReadJob(connection, name));
    return std::move(row.attempt.job);
  });
}

}  // namespace gaitshelf::service
