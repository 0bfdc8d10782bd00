// Runs another program and takes what it prints.
#ifndef GAITSHELF_SERVICE_JOBS_RUN_COMMAND_H_
#define GAITSHELF_SERVICE_JOBS_RUN_COMMAND_H_

#include <string>
#include <vector>

#include "absl/status/statusor.h"

namespace gaitshelf::service {

// Runs a program, which is looked up in PATH, without a shell; gives it the input, at most 60 kB,
// and returns its output.
//
// Errors:
//   kInvalidArgument    no program, or too much input
//   kUnavailable        it cannot be run or ended with another exit status than 0; the message has
//                       what it printed as an error
//   kDeadlineExceeded   it took longer and was killed
absl::StatusOr<std::string> RunCommand(const std::vector<std::string>& words,
                                       const std::string& input,
                                       double timeout_s);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_JOBS_RUN_COMMAND_H_
