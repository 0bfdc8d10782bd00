// Checks of descriptions and orders. Every fault is reported, not the first only.
#ifndef GAITSHELF_SOLVER_ROBOT_CHECK_H_
#define GAITSHELF_SOLVER_ROBOT_CHECK_H_

#include <vector>

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"
#include "gaitshelf/v1/task.pb.h"

#include "absl/status/status.h"
#include "solver/robot/violation.h"

namespace gaitshelf::solver {

// Return every fault of a message; empty when it is fit for use.
Violations CheckRobot(const v1::Robot& robot);
Violations CheckSurface(const v1::Surface& surface);
// Checks what can be said of an order without the library.
Violations CheckOrder(const v1::GaitOrder& order);
// Checks an order against the robot it names: the task must be possible in principle (a hop needs a
// free body and a driven lift, ...). Whether an advance is within reach is the planner's to say.
Violations CheckOrderFor(const v1::GaitOrder& order, const v1::Robot& robot);

// Checks an order against the surface it names, and that against the further ones, which are those
// of also_on in its order.
Violations CheckOrderOn(const v1::GaitOrder& order,
                        const v1::Surface& surface,
                        const std::vector<v1::Surface>& also_on = {});

// Puts faults into one kInvalidArgument status, a line each; OK when there are none.
absl::Status ToStatus(const Violations& violations);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_CHECK_H_
