// Reads descriptions in protobuf text form.
#ifndef GAITSHELF_SOLVER_ROBOT_READ_H_
#define GAITSHELF_SOLVER_ROBOT_READ_H_

#include <string>

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "absl/status/statusor.h"

namespace gaitshelf::solver {

// Parse text. They do not check values: see check.h.
//
// Errors:
//   kInvalidArgument   not valid text; the message names every line and column with what was found
//   there
absl::StatusOr<v1::Robot> ReadRobotText(const std::string& text);
absl::StatusOr<v1::Surface> ReadSurfaceText(const std::string& text);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_READ_H_
