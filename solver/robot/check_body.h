// Rules of a body that take several of its fields.
#ifndef GAITSHELF_SOLVER_ROBOT_CHECK_BODY_H_
#define GAITSHELF_SOLVER_ROBOT_CHECK_BODY_H_

#include <string>

#include "gaitshelf/v1/robot.pb.h"

#include "solver/robot/triple.h"
#include "solver/robot/violation.h"

namespace gaitshelf::solver {

void AddBodyFaults(const v1::Body& body, Violations* violations);

// Checks that a point, whose path is given, is not far away from a body that tells its size.
void CheckPointIsNear(const v1::Body& body,
                      const Triple& point,
                      const std::string& path,
                      Violations* violations);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_CHECK_BODY_H_
