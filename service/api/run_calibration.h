// Calibrates by stored trials, accepts what came of it, and replays gaits on any version.
#ifndef GAITSHELF_SERVICE_API_RUN_CALIBRATION_H_
#define GAITSHELF_SERVICE_API_RUN_CALIBRATION_H_

#include <atomic>
#include <functional>
#include <string>

#include "gaitshelf/v1/calibration_service.pb.h"

#include "absl/status/statusor.h"
#include "service/library/library.h"

namespace gaitshelf::service {

struct CalibrationRun {
  v1::CalibrateRequest request{};
  std::string requester{};
  const std::atomic<bool>* stop = nullptr;
  std::function<void(const v1::CalibrationProgress&)> on_progress{};
};

// Returns the calibration as it is stored.
//
// Errors:
//   kInvalidArgument      options or trials break a rule, or trials do not belong together
//   kNotFound             no such trial
//   kFailedPrecondition   the trials tell nothing, or cannot be explained
//   kResourceExhausted    too many values
//   kDataLoss             stored samples do not match their checksum
//   kCancelled            the stop flag was raised
absl::StatusOr<v1::Calibration> RunCalibration(Library* library, const CalibrationRun& run);

// Makes the calibrated descriptions the current versions.
//
// Errors:
//   kInvalidArgument      no name
//   kNotFound             no such calibration
//   kFailedPrecondition   robot or surface got another current version since
absl::StatusOr<v1::AcceptCalibrationResponse> AcceptStoredCalibration(Library* library,
                                                                      const std::string& name,
                                                                      const std::string& requester);

// Errors:
//   kInvalidArgument   no name
//   kNotFound          no such gait or version
//   kDataLoss          the gait's bytes are damaged
//   kCancelled         the stop flag was raised
absl::StatusOr<v1::ReplayGaitResponse> ReplayStoredGait(Library* library,
                                                        const v1::ReplayGaitRequest& request,
                                                        const std::atomic<bool>* stop);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_RUN_CALIBRATION_H_
