// Reads one log of a trial from a CSV file: a heading of names with units, then rows.
//
//   # clock: tracking
//   time [ms],body x [mm],body yaw [deg],front-left contact
//   0,0.00,0.1,1
//   4,0.31,,1
//
// Lines that begin with '#' before the heading say what the columns do not: the clock (on-board,
// tracking or bench, on-board when absent), the rate of rows without a time, such as 1kHz, and the
// name of the log (that of the file when absent). An empty cell or nan is a sample that is missing.
#ifndef GAITSHELF_CLIENTS_CLI_TRIAL_FILE_H_
#define GAITSHELF_CLIENTS_CLI_TRIAL_FILE_H_

#include <string>
#include <vector>

#include "gaitshelf/v1/trial.pb.h"

#include "absl/status/statusor.h"

namespace gaitshelf::client {

struct TrialFile {
  v1::TrialGroup group{};        // name, clock, rate and the labels of the columns
  std::vector<double> values{};  // row by row, as written
};

// Errors:
//   kInvalidArgument     a line cannot be read: file, row (counted below the heading), line and
//                        column, one line for each of the first twenty faults
//   kFailedPrecondition  the file cannot be read
absl::StatusOr<TrialFile> ReadTrialFile(const std::string& path);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_TRIAL_FILE_H_
