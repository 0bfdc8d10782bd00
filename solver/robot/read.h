// Reads descriptions in protobuf text form.
#ifndef GAITSHELF_SOLVER_ROBOT_READ_H_
#define GAITSHELF_SOLVER_ROBOT_READ_H_

#include <string>

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "absl/status/statusor.h"

namespace gaitshelf::solver {

// Parse text. They do not check values: see check.h. A fault does not stop them: all are told.
//
// Errors:
//   kInvalidArgument   not valid text; a line for each fault: "line 3, column 5: body.mass_g is
//                      unknown; is not a field of Body; write mass_kg; ..."
absl::StatusOr<v1::Robot> ReadRobotText(const std::string& text);
absl::StatusOr<v1::Surface> ReadSurfaceText(const std::string& text);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_READ_H_
