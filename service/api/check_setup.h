// Looks, before anything runs, whether what the flags name is there and fit for use.
#ifndef GAITSHELF_SERVICE_API_CHECK_SETUP_H_
#define GAITSHELF_SERVICE_API_CHECK_SETUP_H_

#include <string>

#include "absl/status/status.h"
#include "service/api/command_line.h"

namespace gaitshelf::service {

// The worker program that the flags mean.
std::string WorkerProgramOf(const CommandLine& line);

// Changes nothing: opens no library, takes no socket and asks no database.
//
// Errors:
//   kFailedPrecondition   every fault, a line each: folders that cannot be written, a worker
//   program
//                         that cannot be run, certificates that do no good, a list of members with
//                         faults
absl::Status CheckSetup(const CommandLine& line);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_CHECK_SETUP_H_
