#include "service/api/gait_memory.h"

#include <algorithm>

#include <unistd.h>

namespace gaitshelf::service {

std::size_t MachineMemoryBytes() {
  const long pages = sysconf(_SC_PHYS_PAGES);
  const long page_bytes = sysconf(_SC_PAGESIZE);
  if (pages <= 0 || page_bytes <= 0) {
    return 0;
  }
  return static_cast<std::size_t>(pages) * static_cast<std::size_t>(page_bytes);
}

std::size_t GaitMemoryBytes(int asked_mb, std::size_t machine_bytes) {
  constexpr std::size_t kShare = 8;  // of the machine's memory
  constexpr std::size_t kMost = std::size_t{1} << 30;
  if (asked_mb != 0) {
    return static_cast<std::size_t>(asked_mb) << 20;
  }
  return machine_bytes == 0 ? kMost : std::min(kMost, machine_bytes / kShare);
}

}  // namespace gaitshelf::service
