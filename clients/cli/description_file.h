// Reads a robot or a surface from a file in protobuf text form.
#ifndef GAITSHELF_CLIENTS_CLI_DESCRIPTION_FILE_H_
#define GAITSHELF_CLIENTS_CLI_DESCRIPTION_FILE_H_

#include <string>

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "absl/status/statusor.h"
#include "clients/cli/session.h"

namespace gaitshelf::client {

// Errors:
//   kFailedPrecondition   the file cannot be read
//   kInvalidArgument      it is larger than the server takes
absl::StatusOr<std::string> ReadDescriptionText(const std::string& path);

enum class DescriptionKind { kRobot, kSurface };

// Tells by the name (.robot.textproto, .surface.textproto) or else by the text which of both a file
// holds.
DescriptionKind KindOfText(const std::string& path, const std::string& text);

// Each has the server read the text of a file, fills the description and returns kExitOk, or prints
// every fault and returns the exit code of the command. Values are not checked.
int ReadRobotText(const Session& session,
                  const std::string& path,
                  const std::string& text,
                  v1::Robot* robot);
int ReadSurfaceText(const Session& session,
                    const std::string& path,
                    const std::string& text,
                    v1::Surface* surface);
// The same from the file.
int ReadRobotFile(const Session& session, const std::string& path, v1::Robot* robot);
int ReadSurfaceFile(const Session& session, const std::string& path, v1::Surface* surface);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_DESCRIPTION_FILE_H_
