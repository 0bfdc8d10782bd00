// Calibration: from trials to the numbers of a robot and a surface, with their uncertainties.
#ifndef GAITSHELF_SOLVER_CALIBRATE_CALIBRATE_H_
#define GAITSHELF_SOLVER_CALIBRATE_CALIBRATE_H_

#include <atomic>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "gaitshelf/v1/calibration.pb.h"
#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "absl/status/statusor.h"
#include "solver/measure/trial_table.h"
#include "solver/robot/violation.h"

namespace gaitshelf::solver {

// Counts up whenever the same trials would give other figures.
inline constexpr int kCalibrationVersion = 2;

// Returns every fault of the options.
Violations CheckCalibrationOptions(const v1::CalibrationOptions& options);

struct CalibrationRequest {
  // What is started from; required where a trial is of it.
  std::optional<v1::Robot> robot{};
  std::optional<v1::Surface> surface{};
  std::vector<const TrialTable*> trials{};
  std::map<std::string, v1::Gait> gaits{};  // by name, those that the trials are of
  v1::CalibrationOptions options{};         // free of faults
  const std::atomic<bool>* stop = nullptr;  // checked many times a second
  int thread_count = 1;                     // for replays
  // Called before every leg and during replays. May be absent.
  std::function<void(const v1::CalibrationProgress&)> on_progress{};
};

// Fits what the trials can tell, in this order:
//   friction by tilt and sled tests
//   stiffness, damping, gain and mass of each leg by its bench tests
//   whatever of these is still open by trials of gaits
// What the data do not tell is reported and stays as described.
//
// Errors:
//   kInvalidArgument     a row of a trial makes no sense, a robot, surface or gait is missing, or a
//                        trial of a gait cannot be compared with replays
//   kFailedPrecondition  the trials tell nothing that can be calibrated, or nothing explains them
//   kCancelled           the stop flag was raised
absl::StatusOr<v1::Calibration> Calibrate(const CalibrationRequest& request);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_CALIBRATE_CALIBRATE_H_
