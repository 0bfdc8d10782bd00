// Copies of an embedded library's file while it is in use.
#ifndef GAITSHELF_SERVICE_LIBRARY_SQLITE_BACKUP_H_
#define GAITSHELF_SERVICE_LIBRARY_SQLITE_BACKUP_H_

#include <string>

#include "gaitshelf/v1/care_service.pb.h"

#include "absl/status/statusor.h"

namespace gaitshelf::service {

// As Library::BackUp, for the library in a file.
absl::StatusOr<v1::BackUpResponse> BackUpSqliteFile(const std::string& library,
                                                    const std::string& path,
                                                    int busy_timeout_ms);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_SQLITE_BACKUP_H_
