#include "clients/cli/description_file.h"

#include <array>
#include <cerrno>
#include <cstddef>
#include <fstream>
#include <system_error>
#include <utility>

#include <grpcpp/client_context.h>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "clients/cli/exit_code.h"
#include "clients/cli/server_error.h"

namespace gaitshelf::client {
namespace {

// What the server takes; see ReadRobotRequest.
constexpr std::size_t kMostBytes = 524288;

// Each message has a call of its own.
grpc::Status Call(const Session& session,
                  const std::string& text,
                  grpc::ClientContext* context,
                  v1::ReadRobotResponse* response) {
  v1::ReadRobotRequest request;
  request.set_text(text);
  return session.server.model->ReadRobot(context, request, response);
}

grpc::Status Call(const Session& session,
                  const std::string& text,
                  grpc::ClientContext* context,
                  v1::ReadSurfaceResponse* response) {
  v1::ReadSurfaceRequest request;
  request.set_text(text);
  return session.server.model->ReadSurface(context, request, response);
}

template <typename Response>
int Read(const Session& session,
         const std::string& path,
         const std::string& text,
         Response* response) {
  grpc::ClientContext context;
  SetShortDeadline(context);
  const grpc::Status status = Call(session, text, &context, response);
  if (!status.ok()) {
    return Fail(session, status);
  }
  if (!response->violations().empty()) {
    return Fail(session, FromFaults(path, response->violations()));
  }
  return kExitOk;
}

}  // namespace

absl::StatusOr<std::string> ReadDescriptionText(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  std::string text;
  std::array<char, 4096> block = {};
  // read() turns a failure, such as a folder in place of a file, into a state; iterators throw.
  while (text.size() <= kMostBytes &&
         (file.read(block.data(), block.size()) || file.gcount() > 0)) {
    text.append(block.data(), static_cast<std::size_t>(file.gcount()));
  }
  if (!file.is_open() || file.bad()) {
    return absl::FailedPreconditionError(
        absl::StrCat(path, ": cannot be read: ", std::generic_category().message(errno)));
  }
  if (text.size() > kMostBytes) {
    return absl::InvalidArgumentError(absl::StrCat(path,
                                                   ": is larger than ",
                                                   kMostBytes,
                                                   " bytes; give the description of one robot or "
                                                   "one surface"));
  }
  return text;
}

DescriptionKind KindOfText(const std::string& path, const std::string& text) {
  if (absl::EndsWith(path, ".surface.textproto")) {
    return DescriptionKind::kSurface;
  }
  // Only a surface has a friction; everything else is judged as a robot.
  return !absl::EndsWith(path, ".robot.textproto") && absl::StrContains(text, "friction")
             ? DescriptionKind::kSurface
             : DescriptionKind::kRobot;
}

int ReadRobotText(const Session& session,
                  const std::string& path,
                  const std::string& text,
                  v1::Robot* robot) {
  v1::ReadRobotResponse response;
  const int exit_code = Read(session, path, text, &response);
  *robot = std::move(*response.mutable_robot());
  return exit_code;
}

int ReadSurfaceText(const Session& session,
                    const std::string& path,
                    const std::string& text,
                    v1::Surface* surface) {
  v1::ReadSurfaceResponse response;
  const int exit_code = Read(session, path, text, &response);
  *surface = std::move(*response.mutable_surface());
  return exit_code;
}

int ReadRobotFile(const Session& session, const std::string& path, v1::Robot* robot) {
  const absl::StatusOr<std::string> text = ReadDescriptionText(path);
  return text.ok() ? ReadRobotText(session, path, *text, robot) : Fail(session, text.status());
}

int ReadSurfaceFile(const Session& session, const std::string& path, v1::Surface* surface) {
  const absl::StatusOr<std::string> text = ReadDescriptionText(path);
  return text.ok() ? ReadSurfaceText(session, path, *text, surface) : Fail(session, text.status());
}

}  // namespace gaitshelf::client
