// The model that a replay runs on, in units in which its numbers are of order one.
#ifndef GAITSHELF_SOLVER_REPLAY_REPLAY_MODEL_H_
#define GAITSHELF_SOLVER_REPLAY_REPLAY_MODEL_H_

#include "gaitshelf/v1/leg_table.pb.h"
#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "absl/status/statusor.h"
#include "solver/leg/robot_model.h"

namespace gaitshelf::solver {

// Builds the model of a robot that has passed its check. Units: standing height, mass of the robot,
// and the time that goes with them. Legs with a linkage are compiled, unless tables that were made
// of this very robot are given.
absl::StatusOr<RobotModel> CreateReplayModel(const v1::Robot& robot,
                                             const v1::Surface& surface,
                                             const v1::LegTables* leg_tables = nullptr);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_REPLAY_MODEL_H_
