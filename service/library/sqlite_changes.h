// What the parts of the embedded library share beyond their own tables: the log of changes, and
// storing inside somebody else's transaction.
#ifndef GAITSHELF_SERVICE_LIBRARY_SQLITE_CHANGES_H_
#define GAITSHELF_SERVICE_LIBRARY_SQLITE_CHANGES_H_

#include <string>

#include "gaitshelf/v1/care_service.pb.h"
#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "service/library/sqlite_connection.h"

namespace gaitshelf::service {

struct SqliteChange {
  std::string requester{};
  v1::ChangeKind kind = v1::CHANGE_KIND_UNSPECIFIED;
  std::string subject{};
  std::string detail{};
};

// Adds a line to the log of changes. Call it inside the transaction of the change.
absl::Status AddSqliteChange(SqliteConnection* connection, const SqliteChange& change);

enum class SqliteGaitChange { kNone, kNew, kVerdict };

// As Library::InsertGait, without a transaction of its own and without a line in the log.
absl::StatusOr<SqliteGaitChange> InsertSqliteGait(SqliteConnection* connection,
                                                  const v1::Gait& gait,
                                                  const std::string& key);

// Store a version that came with a bundle, likewise; return whether it is new.
absl::StatusOr<bool> ImportSqliteRobot(SqliteConnection* connection,
                                       const v1::Robot& robot,
                                       const std::string& digest);
absl::StatusOr<bool> ImportSqliteSurface(SqliteConnection* connection,
                                         const v1::Surface& surface,
                                         const std::string& digest);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_SQLITE_CHANGES_H_
