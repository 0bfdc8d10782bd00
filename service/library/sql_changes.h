// What the parts of the library share beyond their own tables: the log of changes, and
// storing inside somebody else's transaction.
#ifndef GAITSHELF_SERVICE_LIBRARY_SQL_CHANGES_H_
#define GAITSHELF_SERVICE_LIBRARY_SQL_CHANGES_H_

#include <string>

#include "gaitshelf/v1/care_service.pb.h"
#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "service/library/sql_connection.h"

namespace gaitshelf::service {

struct ChangeLine {
  std::string requester{};
  v1::ChangeKind kind = v1::CHANGE_KIND_UNSPECIFIED;
  std::string subject{};
  std::string detail{};
};

// Adds a line to the log of changes. Call it inside the transaction of the change.
absl::Status AddChange(SqlConnection* connection, const ChangeLine& change);

enum class GaitChange { kNone, kNew, kVerdict };

// As Library::InsertGait, without a transaction of its own, a line in the log and counting.
absl::StatusOr<GaitChange> InsertGaitRows(SqlConnection* connection,
                                          const v1::Gait& gait,
                                          const std::string& key);

// Store a version that came with a bundle, likewise; return whether it is new.
absl::StatusOr<bool> ImportRobotVersion(SqlConnection* connection,
                                        const v1::Robot& robot,
                                        const std::string& digest);
absl::StatusOr<bool> ImportSurfaceVersion(SqlConnection* connection,
                                          const v1::Surface& surface,
                                          const std::string& digest);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_SQL_CHANGES_H_
