// Has the server calibrate, and asks before anything becomes current; shared by calibrate and
// replan.
#ifndef GAITSHELF_CLIENTS_CLI_RUN_CALIBRATION_H_
#define GAITSHELF_CLIENTS_CLI_RUN_CALIBRATION_H_

#include <string>
#include <vector>

#include "gaitshelf/v1/calibration_service.pb.h"

#include "absl/status/statusor.h"
#include "clients/cli/session.h"

namespace gaitshelf::client {

// The flags of CalibrationOptions, and --quiet.
std::vector<FlagSpec> CalibrationFlags();

// Errors:
//   kInvalidArgument   a flag cannot be read; one line for each fault
absl::StatusOr<v1::CalibrationOptions> ReadCalibrationOptions(const Arguments& arguments);

struct CalibrationEnd {
  int exit_code = 0;  // not 0: the failure was shown
  v1::Calibration calibration{};
};

// Calibrates and shows progress. Ctrl-C stops it; then nothing is kept.
CalibrationEnd RunCalibration(const v1::CalibrateRequest& request, bool is_quiet, Session& session);

// Makes a calibration's descriptions current. Returns the exit code.
int AcceptCalibration(const std::string& name, Session& session);

// Says whether the calibration should become current: --yes, or else a person is asked on
// console.err and types the word "yes". With --json nobody is asked.
bool IsWanted(const v1::Calibration& calibration,
              const Arguments& arguments,
              const Session& session);

// Says that nothing became current, and how to do it later.
void SayHowToAccept(const std::string& name, const Session& session);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_RUN_CALIBRATION_H_
