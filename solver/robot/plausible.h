// Numbers of materials that a description may have but that nobody would measure. Warnings, not
// faults: materials differ, and so do the ways in which they are measured.
#ifndef GAITSHELF_SOLVER_ROBOT_PLAUSIBLE_H_
#define GAITSHELF_SOLVER_ROBOT_PLAUSIBLE_H_

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "solver/robot/violation.h"

namespace gaitshelf::solver {

// Return what is far from any measured value, in the form of a fault. The messages have passed
// their checks.
Violations RobotWarnings(const v1::Robot& robot);
Violations SurfaceWarnings(const v1::Surface& surface);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_PLAUSIBLE_H_
