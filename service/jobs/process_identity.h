// Names a process so that a later process with the same number is not taken for it.
#ifndef GAITSHELF_SERVICE_JOBS_PROCESS_IDENTITY_H_
#define GAITSHELF_SERVICE_JOBS_PROCESS_IDENTITY_H_

#include <string>

namespace gaitshelf::service {

// Returns "host/boot/number/start" of this process.
std::string IdentifyThisProcess();

enum class ProcessLife { kAlive, kDead, kUnknown };

// Says whether the process of an identity lives; unknown when it belongs to another host or the
// text is not an identity.
ProcessLife LookUpProcess(const std::string& identity);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_JOBS_PROCESS_IDENTITY_H_
