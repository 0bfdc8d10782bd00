// Brings a PostgreSQL database up to date.
#ifndef GAITSHELF_SERVICE_LIBRARY_POSTGRES_SCHEMA_H_
#define GAITSHELF_SERVICE_LIBRARY_POSTGRES_SCHEMA_H_

#include <string>
#include <vector>

#include "absl/status/status.h"
#include "service/library/postgres_connection.h"

namespace gaitshelf::service {

// Held until the end of a transaction by whoever has all writing for himself ("gshf" in ASCII). A
// number is a lock of one database.
inline constexpr char kLockLibrary[] = "SELECT pg_advisory_xact_lock(1735616614)";

// Brings the tables to the last of the steps in one transaction; a library of an older program that
// is in use goes on with the new tables. Copies nothing: whoever runs the database makes its
// backups.
//
// Errors:
//   kFailedPrecondition   the database holds something else, or was written by a newer program
absl::Status UpgradePostgresSchema(PostgresConnection* connection,
                                   const std::vector<std::string>& steps);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_POSTGRES_SCHEMA_H_
