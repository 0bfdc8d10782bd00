// Calibrations as text for a terminal of 80 columns.
#ifndef GAITSHELF_CLIENTS_CLI_CALIBRATION_TEXT_H_
#define GAITSHELF_CLIENTS_CLI_CALIBRATION_TEXT_H_

#include <string>

#include "gaitshelf/v1/calibration_service.pb.h"

namespace gaitshelf::client {

// One row for each calibration.
std::string CalibrationTable(const v1::ListCalibrationsResponse& calibrations);
// Every number that was looked for, what hangs together, how well each trial is explained, and what
// to think of.
std::string CalibrationText(const v1::Calibration& calibration);
// What the current versions are after a calibration was accepted.
std::string AcceptedText(const v1::AcceptCalibrationResponse& accepted);

// Strides before and after side by side, and the new gaits or why there is none.
std::string ReplanText(const v1::ReplanReport& report);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_CALIBRATION_TEXT_H_
