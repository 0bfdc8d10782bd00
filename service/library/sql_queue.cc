#include "service/library/sql_queue.h"

#include <algorithm>

#include "absl/strings/cord.h"
#include "absl/strings/str_cat.h"
#include "service/library/library.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

struct OpenJobs {
  std::int64_t count = 0;
  std::int64_t last_turn = -1;
};

absl::StatusOr<OpenJobs> FindOwnJobs(SqlConnection* connection, const std::string& requester) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement query,
      connection->Prepare("SELECT count(*), coalesce(max(turn), -1) FROM jobs WHERE state IN (1, "
                          "2) AND requester = ?1"));
  GAITSHELF_RETURN_IF_ERROR(query.BindText(requester).Step().status());
  return OpenJobs{.count = query.Integer(0), .last_turn = query.Integer(1)};
}

absl::Status Refusal(const std::string& message, const char* limit) {
  absl::Status status = absl::ResourceExhaustedError(message);
  status.SetPayload(kLimitPayload, absl::Cord(limit));
  return status;
}

absl::Status CheckRoom(SqlConnection* connection,
                       const std::string& requester,
                       std::int64_t own_count,
                       const QueueLimits& limits) {
  const std::int64_t most_own =
      limits.open_per_member > 0 ? limits.open_per_member : (limits.open + 1) / 2;
  if (own_count >= most_own) {
    return Refusal(
        absl::StrCat(requester.empty() ? "callers without a name have " : requester + " has ",
                     own_count,
                     " jobs that wait or run, and one member may have ",
                     most_own,
                     " (--jobs-per-member); order more when some have ended, or cancel some"),
        "TOO_MANY_JOBS");
  }
  GAITSHELF_ASSIGN_OR_RETURN(
      const std::int64_t open_count,
      connection->QueryInteger("SELECT count(*) FROM jobs WHERE state IN (1, 2)"));
  if (open_count >= limits.open) {
    return Refusal(absl::StrCat("the queue is full: ",
                                open_count,
                                " jobs wait or run, allowed are ",
                                limits.open,
                                " (--queue-limit); ask again when some have ended"),
                   "QUEUE_FULL");
  }
  return absl::OkStatus();
}

// The turn that is being served: that of the latest job to be started, else of the first to be due.
absl::StatusOr<std::int64_t> PresentTurn(SqlConnection* connection) {
  GAITSHELF_ASSIGN_OR_RETURN(
      const std::int64_t running,
      connection->QueryInteger("SELECT coalesce(max(turn), -1) FROM jobs WHERE state = 2 AND "
                               "crash_count = 0"));
  if (running >= 0) {
    return running;
  }
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement next,
      connection->Prepare(
          absl::StrCat("SELECT turn FROM jobs WHERE state = 1", kQueueOrder, " LIMIT 1")));
  GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, next.Step());
  return has_row ? next.Integer(0) : 0;
}

}  // namespace

absl::StatusOr<std::int64_t> FindTurn(SqlConnection* connection,
                                      const std::string& requester,
                                      const QueueLimits& limits) {
  GAITSHELF_ASSIGN_OR_RETURN(const OpenJobs own, FindOwnJobs(connection, requester));
  GAITSHELF_RETURN_IF_ERROR(CheckRoom(connection, requester, own.count, limits));
  GAITSHELF_ASSIGN_OR_RETURN(const std::int64_t present, PresentTurn(connection));
  return std::max(present, own.last_turn + 1);
}

absl::Status GiveUpTurn(SqlConnection* connection, const std::string& requester, std::int64_t id) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement update,
      connection->Prepare("UPDATE jobs SET turn = turn - 1 WHERE state = 1 AND requester = ?1 AND "
                          "turn > (SELECT turn FROM jobs WHERE id = ?2)"));
  return update.BindText(requester).BindInteger(id).Run().status();
}

}  // namespace gaitshelf::service
