// What the verbs for trials share with those that calibrate by them.
#ifndef GAITSHELF_CLIENTS_CLI_TRIAL_VERBS_H_
#define GAITSHELF_CLIENTS_CLI_TRIAL_VERBS_H_

#include <vector>

#include "gaitshelf/v1/trial_analysis.pb.h"

#include "absl/status/statusor.h"
#include "clients/cli/arguments.h"

namespace gaitshelf::client {

// The flags of AnalysisOptions.
const std::vector<FlagSpec>& AnalysisFlags();

// Errors:
//   kInvalidArgument   a flag cannot be read; one line for each fault
absl::StatusOr<v1::AnalysisOptions> ReadAnalysisOptions(const Arguments& arguments);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_TRIAL_VERBS_H_
