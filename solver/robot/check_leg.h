// Rules of a leg that take several of its fields, or the robot.
#ifndef GAITSHELF_SOLVER_ROBOT_CHECK_LEG_H_
#define GAITSHELF_SOLVER_ROBOT_CHECK_LEG_H_

#include "gaitshelf/v1/robot.pb.h"

#include "solver/robot/violation.h"

namespace gaitshelf::solver {

// Adds the faults of robot.legs(index).
void AddLegFaults(const v1::Robot& robot, int index, Violations* violations);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_CHECK_LEG_H_
