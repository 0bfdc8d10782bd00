// Plays a gait on the robot under its leg controller and reports what happened.
#ifndef GAITSHELF_SOLVER_REPLAY_SIMULATE_H_
#define GAITSHELF_SOLVER_REPLAY_SIMULATE_H_

#include <atomic>
#include <string>

#include "gaitshelf/v1/audit.pb.h"
#include "gaitshelf/v1/robot.pb.h"

#include "absl/status/statusor.h"
#include "solver/leg/robot_model.h"
#include "solver/replay/gait_track.h"

namespace gaitshelf::solver {

struct SimulateRequest {
  const RobotModel* model = nullptr;
  const GaitTrack* track = nullptr;
  v1::LegController leg_controller;
  const std::atomic<bool>* stop = nullptr;  // checked at every step
};

struct Simulated {
  v1::ReplayReport report;
  // Why the simulation ended early, a sentence without full stop; empty when it ran to its end.
  std::string trouble;
};

// Replays six cycles of a periodic gait from its planned state, or a hop once and then its
// settling. A fall or a step without convergence ends it early and is reported as trouble, not as
// an error.
//
// Errors:
//   kCancelled   the stop flag was raised
absl::StatusOr<Simulated> SimulateGait(const SimulateRequest& request);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_SIMULATE_H_
