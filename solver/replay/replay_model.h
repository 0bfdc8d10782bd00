// The model that a replay runs on, in units in which its numbers are of order one.
#ifndef GAITSHELF_SOLVER_REPLAY_REPLAY_MODEL_H_
#define GAITSHELF_SOLVER_REPLAY_REPLAY_MODEL_H_

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "absl/status/statusor.h"
#include "solver/leg/robot_model.h"

namespace gaitshelf::solver {

// Builds the model of a robot that has passed its check. Units: standing height, mass of the robot,
// and the time that goes with them.
absl::StatusOr<RobotModel> CreateReplayModel(const v1::Robot& robot, const v1::Surface& surface);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_REPLAY_MODEL_H_
