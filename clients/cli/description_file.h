// Reads a robot or a surface from a file in protobuf text form.
#ifndef GAITSHELF_CLIENTS_CLI_DESCRIPTION_FILE_H_
#define GAITSHELF_CLIENTS_CLI_DESCRIPTION_FILE_H_

#include <string>
#include <variant>

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "absl/status/statusor.h"

namespace gaitshelf::client {

// Each reads the file and checks that it is well-formed; the server checks its values.
//
// Errors:
//   kInvalidArgument   not valid text: file, line, column and what was found, one line for each
//   kFailedPrecondition   the file cannot be read
absl::StatusOr<v1::Robot> ReadRobotFile(const std::string& path);
absl::StatusOr<v1::Surface> ReadSurfaceFile(const std::string& path);

// Tells by the name (.robot.textproto, .surface.textproto) or else by the content which of both the
// file holds, and reads it.
//
// Errors: as above.
absl::StatusOr<std::variant<v1::Robot, v1::Surface>> ReadDescriptionFile(const std::string& path);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_DESCRIPTION_FILE_H_
