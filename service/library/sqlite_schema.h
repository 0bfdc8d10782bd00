// Brings the file of an embedded library up to date.
#ifndef GAITSHELF_SERVICE_LIBRARY_SQLITE_SCHEMA_H_
#define GAITSHELF_SERVICE_LIBRARY_SQLITE_SCHEMA_H_

#include <string>
#include <vector>

#include "absl/status/status.h"
#include "service/library/sqlite_connection.h"

namespace gaitshelf::service {

// Brings the file to the last of the steps in one transaction. A file that already held a library
// is copied to PATH.before-schema-N first, N being the schema that it is brought to.
//
// Errors:
//   kFailedPrecondition   the file holds something else, or was written by a newer program
absl::Status UpgradeSqliteSchema(SqliteConnection* connection,
                                 const std::vector<std::string>& steps);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_SQLITE_SCHEMA_H_
