// Opens the embedded library: one SQLite file, shared by the server and its workers. No set-up.
#ifndef GAITSHELF_SERVICE_LIBRARY_SQLITE_LIBRARY_H_
#define GAITSHELF_SERVICE_LIBRARY_SQLITE_LIBRARY_H_

#include <cstddef>
#include <memory>
#include <string>

#include "absl/status/statusor.h"
#include "service/library/library.h"

namespace gaitshelf::service {

struct SqliteLibraryOptions {
  int queue_limit = 1000;            // most jobs that may be open at a time
  int jobs_per_member = 0;           // most of them of one requester; 0 means half
  int crash_limit = 5;               // worker crashes after which a job fails
  std::size_t gait_cache_bytes = 0;  // of bodies kept in memory; 0 keeps none
  int busy_timeout_ms = 5000;        // longest wait for another process's write
};

// Opens the library in a file, which is made when it is missing. A file of an older schema is
// copied beside itself (PATH.before-schema-N) and then brought up to date.
//
// Errors:
//   kFailedPrecondition   the file was written by a newer program, or is not a library
//   kPermissionDenied     the file or its folder cannot be written
//   kNotFound             the folder does not exist
//   kResourceExhausted    the disk is full
//   kDataLoss             the file is damaged
absl::StatusOr<std::unique_ptr<Library>> OpenSqliteLibrary(const std::string& path,
                                                           const SqliteLibraryOptions& options);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_SQLITE_LIBRARY_H_
