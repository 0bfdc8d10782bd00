// How the server is: one look at what it depends on, and what is wrong with it.
#ifndef GAITSHELF_SERVICE_TELEMETRY_CONDITION_H_
#define GAITSHELF_SERVICE_TELEMETRY_CONDITION_H_

#include <cstdint>
#include <string>
#include <vector>

#include "service/library/library.h"

namespace gaitshelf::service {

struct Condition {
  bool is_library_reachable = false;
  bool is_library_full = false;       // its last writes found no room
  LibraryCounts counts;               // of the last time that it could be reached
  std::int64_t free_disk_bytes = -1;  // beside the library; -1 when that is not this machine's
  std::int64_t least_disk_bytes = 0;  // wanted of it
};

// Looks at library and disk. A folder "" means that the library has none on this machine.
Condition LookAt(Library* library, const std::string& folder, std::int64_t least_disk_bytes);

// What keeps the server from serving at all, a line each: empty when it is well.
std::vector<std::string> ProblemsOf(const Condition& condition);
// Tells whether it can take orders: it is well, and there is room in the queue.
bool TakesOrders(const Condition& condition);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_TELEMETRY_CONDITION_H_
