// What a gait would do on a robot and a surface as they are now known.
#ifndef GAITSHELF_SOLVER_CALIBRATE_PREDICT_H_
#define GAITSHELF_SOLVER_CALIBRATE_PREDICT_H_

#include <atomic>
#include <string>

#include "gaitshelf/v1/audit.pb.h"
#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "absl/status/statusor.h"

namespace gaitshelf::solver {

struct PredictionRequest {
  v1::Robot robot;
  v1::Surface surface;
  v1::Gait gait;
  const std::atomic<bool>* stop = nullptr;  // checked at every step
};

struct Prediction {
  v1::ReplayReport replay;
  std::string trouble;  // why it ended early; empty when it did not
};

// Replays as many cycles as an audit, on the model of body and two coordinates a leg.
//
// Errors:
//   kInvalidArgument   the gait's arrays do not fit the robot
//   kCancelled         the stop flag was raised
absl::StatusOr<Prediction> PredictReplay(const PredictionRequest& request);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_CALIBRATE_PREDICT_H_
