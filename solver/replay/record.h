// A replay as a log in SI units: what perfect sensors would have written down.
#ifndef GAITSHELF_SOLVER_REPLAY_RECORD_H_
#define GAITSHELF_SOLVER_REPLAY_RECORD_H_

#include <atomic>
#include <vector>

#include <Eigen/Core>

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "absl/status/statusor.h"
#include "solver/replay/simulate.h"

namespace gaitshelf::solver {

struct RecordRequest {
  v1::Robot robot;
  v1::Surface surface;
  v1::Gait gait;
  int cycle_count = 12;                     // of a periodic gait, at least 2
  const std::atomic<bool>* stop = nullptr;  // checked at every step
};

// N samples, evenly spaced, the first one step after the planned state at knot 0. L legs, F feet.
// A clamped body stands still at its clamp.
struct Recording {
  double step_s = 0.0;
  Eigen::MatrixXd body_pose;        // 6 x N: position in m, then roll, pitch, yaw in rad
  Eigen::MatrixXd leg_position_m;   // 2L x N
  Eigen::MatrixXd voltage_v;        // 2L x N, held over the step that ends at the sample
  Eigen::MatrixXd foot_position_m;  // 3F x N, surface frame
  Eigen::MatrixXd foot_force_n;     // 3F x N, mean over the step
  Simulated simulated;

  Eigen::Index sample_count() const { return body_pose.cols(); }
};

// Replays the gait on the robot's model of body and two coordinates a leg, and keeps every step. A
// replay that ends early has its trouble in `simulated`, and the samples up to there.
//
// Errors:
//   kInvalidArgument   the gait's arrays do not fit the robot
//   kCancelled         the stop flag was raised
absl::StatusOr<Recording> RecordReplay(const RecordRequest& request);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_RECORD_H_
