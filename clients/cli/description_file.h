// Reads a robot or a surface from a file in protobuf text form.
#ifndef GAITSHELF_CLIENTS_CLI_DESCRIPTION_FILE_H_
#define GAITSHELF_CLIENTS_CLI_DESCRIPTION_FILE_H_

#include <string>

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "clients/cli/session.h"

namespace gaitshelf::client {

enum class DescriptionKind { kRobot, kSurface };

// Tells by the name (.robot.textproto, .surface.textproto) or else by the content which of both the
// file holds. A file that cannot be read counts as a robot: whoever reads it next says why.
DescriptionKind KindOfFile(const std::string& path);

// Each has the server read the text, fills the description and returns kExitOk, or prints every
// fault of the file or the text and returns the exit code of the command. Values are not checked.
int ReadRobotFile(const Session& session, const std::string& path, v1::Robot* robot);
int ReadSurfaceFile(const Session& session, const std::string& path, v1::Surface* surface);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_DESCRIPTION_FILE_H_
