// The name of a trial: made of its content, so that the same trial is stored once.
#ifndef GAITSHELF_SERVICE_LIBRARY_TRIAL_NAME_H_
#define GAITSHELF_SERVICE_LIBRARY_TRIAL_NAME_H_

#include <string>
#include <vector>

#include "gaitshelf/v1/trial.pb.h"

#include "absl/status/statusor.h"

namespace gaitshelf::service {

// Returns "t-" and 32 hexadecimal digits of the SHA-256 over the description, without name and time
// of storing, and the samples' blocks.
absl::StatusOr<std::string> TrialName(const v1::Trial& trial,
                                      const std::vector<std::string>& blocks);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_TRIAL_NAME_H_
