// Opens a library by its name, whichever backend holds it.
#ifndef GAITSHELF_SERVICE_LIBRARY_OPEN_LIBRARY_H_
#define GAITSHELF_SERVICE_LIBRARY_OPEN_LIBRARY_H_

#include <cstddef>
#include <functional>
#include <memory>
#include <string>

#include "absl/status/statusor.h"
#include "service/library/library.h"
#include "service/log/event.h"

namespace gaitshelf::service {

struct OpenLibraryOptions {
  int queue_limit = 1000;   // most jobs that may be open at a time
  int jobs_per_member = 0;  // most of them of one requester; 0 means half
  double patience_s = 5;    // how long a storage that is held or lost is waited for
  // How long a database that is out of reach is waited for at the opening; 0: as long as later.
  double opening_patience_s = 0;
  std::function<bool()> is_given_up{};  // asked while it is waited for; may be absent
  // Most bytes of gaits that are kept in memory: some four hundred gaits of a robot with four legs.
  std::size_t gait_memory_bytes = 64 << 20;
  EventLog log{};  // may be absent
};

// Tells whether a name is the address of a PostgreSQL database: it begins with postgresql:// or
// postgres://. Any other is the path of a file.
bool IsDatabaseAddress(const std::string& name);

// Opens sqlite_library.h or postgres_library.h, which say what can go wrong.
absl::StatusOr<std::unique_ptr<Library>> OpenLibrary(const std::string& name,
                                                     const OpenLibraryOptions& options);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_OPEN_LIBRARY_H_
