#include "service/library/open_library.h"

#include "absl/strings/match.h"
#include "service/library/postgres_library.h"
#include "service/library/sqlite_library.h"

namespace gaitshelf::service {

bool IsDatabaseAddress(const std::string& name) {
  return absl::StartsWith(name, "postgresql://") || absl::StartsWith(name, "postgres://");
}

absl::StatusOr<std::unique_ptr<Library>> OpenLibrary(const std::string& name,
                                                     const OpenLibraryOptions& options) {
  if (IsDatabaseAddress(name)) {
    return OpenPostgresLibrary(name,
                               {.queue_limit = options.queue_limit,
                                .jobs_per_member = options.jobs_per_member,
                                .gait_cache_bytes = options.gait_memory_bytes},
                               {.patience_s = options.patience_s,
                                .opening_patience_s = options.opening_patience_s,
                                .is_given_up = options.is_given_up,
                                .log = options.log});
  }
  return OpenSqliteLibrary(name,
                           {.queue_limit = options.queue_limit,
                            .jobs_per_member = options.jobs_per_member,
                            .gait_cache_bytes = options.gait_memory_bytes,
                            .busy_timeout_ms = static_cast<int>(1000 * options.patience_s)});
}

}  // namespace gaitshelf::service
