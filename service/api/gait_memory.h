// How much memory a server keeps gaits in.
#ifndef GAITSHELF_SERVICE_API_GAIT_MEMORY_H_
#define GAITSHELF_SERVICE_API_GAIT_MEMORY_H_

#include <cstddef>

namespace gaitshelf::service {

// Bytes of memory that this machine has; 0 when it does not tell.
std::size_t MachineMemoryBytes();

// Bytes for gaits: what was asked for, in MiB, or when that is 0 an eighth of the machine's memory
// and 1 GiB at most. A machine that does not tell its memory (0) is taken for a large one.
std::size_t GaitMemoryBytes(int asked_mb, std::size_t machine_bytes);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_GAIT_MEMORY_H_
