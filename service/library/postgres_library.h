// Opens a library that a group shares: a PostgreSQL database, with as many servers and workers on
// it, on as many machines, as there are.
#ifndef GAITSHELF_SERVICE_LIBRARY_POSTGRES_LIBRARY_H_
#define GAITSHELF_SERVICE_LIBRARY_POSTGRES_LIBRARY_H_

#include <memory>
#include <string>

#include "absl/status/statusor.h"
#include "service/library/postgres_storage.h"
#include "service/library/sql_store.h"

namespace gaitshelf::service {

// Opens the library at an address (postgres_connection.h), in a database that exists; tables are
// made or brought up to date. Only the bodies of gaits that were read before can be read while the
// database is out of reach; everything else fails with kUnavailable after the patience of
// `storage`.
//
// Errors:
//   kInvalidArgument      the address cannot be read or holds a password
//   kUnavailable          the database does not answer
//   kPermissionDenied     it refuses the user
//   kFailedPrecondition   it does not exist, is not a library, or was written by a newer program
absl::StatusOr<std::unique_ptr<Library>> OpenPostgresLibrary(const std::string& address,
                                                             const SqlStoreOptions& options,
                                                             const PostgresStorageOptions& storage);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_POSTGRES_LIBRARY_H_
