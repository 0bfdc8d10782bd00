// The queue of jobs: how many may be open, and whose is due. Members take turns: a job's turn is
// numbered when it is ordered, after its member's own and beside the others', so that whoever
// orders hundreds of jobs does not hold up one who orders a single one.
#ifndef GAITSHELF_SERVICE_LIBRARY_SQL_QUEUE_H_
#define GAITSHELF_SERVICE_LIBRARY_SQL_QUEUE_H_

#include <cstdint>
#include <string>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "service/library/sql_connection.h"

namespace gaitshelf::service {

// The order in which queued jobs are due. A job that has crashed before stands behind the others,
// so that it cannot hold them up.
inline constexpr char kQueueOrder[] = " ORDER BY crash_count, turn, id";

struct QueueLimits {
  std::int64_t open = 0;             // jobs of all
  std::int64_t open_per_member = 0;  // jobs of one requester; 0 means half of `open`
};

// Returns the turn of one more job of a requester. Callers who give no name count as one.
//
// Errors:
//   kResourceExhausted   a limit is met; the payload kLimitPayload says which (library.h)
absl::StatusOr<std::int64_t> FindTurn(SqlConnection* connection,
                                      const std::string& requester,
                                      const QueueLimits& limits);

// Moves a requester's later jobs up, for one of his that leaves the queue without having run.
absl::Status GiveUpTurn(SqlConnection* connection, const std::string& requester, std::int64_t id);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_SQL_QUEUE_H_
