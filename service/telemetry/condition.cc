#include "service/telemetry/condition.h"

#include "absl/status/statusor.h"
#include "absl/strings/str_cat.h"
#include "service/library/room.h"

namespace gaitshelf::service {

Condition LookAt(Library* library, const std::string& folder, std::int64_t least_disk_bytes) {
  Condition condition;
  condition.least_disk_bytes = least_disk_bytes;
  const absl::StatusOr<LibraryCounts> counts = library->Count();
  condition.is_library_reachable = counts.ok();
  condition.is_library_full = library->IsFull();
  if (counts.ok()) {
    condition.counts = *counts;
  }
  if (!folder.empty()) {
    condition.free_disk_bytes = FreeBytes(folder).value_or(0);
  }
  return condition;
}

std::vector<std::string> ProblemsOf(const Condition& condition) {
  std::vector<std::string> problems;
  if (!condition.is_library_reachable) {
    problems.emplace_back("the library cannot be reached");
  }
  if (condition.is_library_full) {
    problems.emplace_back("the library takes no changes: its disk is full");
  }
  if (condition.free_disk_bytes >= 0 && condition.free_disk_bytes < condition.least_disk_bytes) {
    problems.push_back(absl::StrCat("the disk of the library has ",
                                    condition.free_disk_bytes >> 20,
                                    " MB left, wanted are ",
                                    condition.least_disk_bytes >> 20));
  }
  return problems;
}

bool TakesOrders(const Condition& condition) {
  const std::int64_t open = condition.counts.queued_jobs + condition.counts.running_jobs;
  return ProblemsOf(condition).empty() && open < condition.counts.queue_limit;
}

}  // namespace gaitshelf::service
