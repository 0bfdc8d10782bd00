// The verbs for robots and surfaces: put, show, list, check.
#include <cstddef>
#include <ostream>
#include <string>

#include <google/protobuf/text_format.h>

#include "absl/status/statusor.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "clients/cli/description_file.h"
#include "clients/cli/exit_code.h"
#include "clients/cli/json.h"
#include "clients/cli/server_error.h"
#include "clients/cli/session.h"
#include "clients/cli/table.h"

namespace gaitshelf::client {
namespace {

// First digits of a digest: enough to tell versions apart by eye.
std::string ShortDigest(const std::string& digest) { return digest.substr(0, 12); }

// What is left for a title of a line of 80 columns.
constexpr std::size_t kMostTitle = 28;

// Prints a description as text that can be saved, changed and put again.
template <typename Stored, typename Description>
void ShowStored(const Session& session, const Stored& stored, const Description& description) {
  if (session.is_json) {
    session.console.out << ToJson(stored);
    return;
  }
  std::string text;
  google::protobuf::TextFormat::PrintToString(description, &text);
  session.console.out << "# version " << stored.version() << ", digest " << stored.digest() << "\n"
                      << text;
}

template <typename Stored>
void ShowPut(const Session& session, const std::string& name, const Stored& stored, bool is_new) {
  session.console.out << absl::StrFormat("%s version %d, digest %s (%s)\n",
                                         name,
                                         stored.version(),
                                         ShortDigest(stored.digest()),
                                         is_new ? "new" : "unchanged");
}

int PutRobot(const Arguments& arguments, Session& session) {
  v1::PutRobotRequest request;
  if (const int code = ReadRobotFile(session, arguments.words()[0], request.mutable_robot());
      code != kExitOk) {
    return code;
  }
  v1::PutRobotResponse response;
  grpc::ClientContext context;
  SetShortDeadline(context);
  SetRequester(context);
  const grpc::Status status = session.server.library->PutRobot(&context, request, &response);
  if (!status.ok()) {
    return Fail(session, status);
  }
  if (session.is_json) {
    session.console.out << ToJson(response);
    return kExitOk;
  }
  ShowPut(session, response.stored().robot().name(), response.stored(), response.is_new_version());
  return kExitOk;
}

int ShowRobot(const Arguments& arguments, Session& session) {
  v1::GetRobotRequest request;
  request.set_name(arguments.words()[0]);
  request.set_digest(arguments.Value("digest").value_or(""));
  v1::StoredRobot stored;
  grpc::ClientContext context;
  SetShortDeadline(context);
  const grpc::Status status = session.server.library->GetRobot(&context, request, &stored);
  if (!status.ok()) {
    return Fail(session, status);
  }
  ShowStored(session, stored, stored.robot());
  return kExitOk;
}

int ListRobots(const Arguments& /*arguments*/, Session& session) {
  v1::ListRobotsResponse response;
  grpc::ClientContext context;
  SetShortDeadline(context);
  const grpc::Status status = session.server.library->ListRobots(&context, {}, &response);
  if (!status.ok()) {
    return Fail(session, status);
  }
  if (session.is_json) {
    session.console.out << ToJson(response);
    return kExitOk;
  }
  Table table({"robot", ">version", ">legs", ">mass", "digest", "title"});
  for (const v1::StoredRobot& stored : response.robots()) {
    double mass_kg = stored.robot().body().mass_kg();
    for (const v1::Leg& leg : stored.robot().legs()) {
      mass_kg += leg.lumped().foot_mass_kg();
      for (const v1::Link& link : leg.linkage().links()) {
        mass_kg += link.mass_kg();
      }
    }
    table.AddRow({stored.robot().name(),
                  absl::StrCat(stored.version()),
                  absl::StrCat(stored.robot().legs_size()),
                  absl::StrFormat("%.2f g", mass_kg * 1e3),
                  ShortDigest(stored.digest()),
                  ShortTitle(stored.robot().title(), kMostTitle)});
  }
  session.console.out << (table.empty() ? "no robots; put one with: gaitshelf robot put FILE\n"
                                        : table.ToText());
  return kExitOk;
}

int PutSurface(const Arguments& arguments, Session& session) {
  v1::PutSurfaceRequest request;
  if (const int code = ReadSurfaceFile(session, arguments.words()[0], request.mutable_surface());
      code != kExitOk) {
    return code;
  }
  v1::PutSurfaceResponse response;
  grpc::ClientContext context;
  SetShortDeadline(context);
  SetRequester(context);
  const grpc::Status status = session.server.library->PutSurface(&context, request, &response);
  if (!status.ok()) {
    return Fail(session, status);
  }
  if (session.is_json) {
    session.console.out << ToJson(response);
    return kExitOk;
  }
  ShowPut(
      session, response.stored().surface().name(), response.stored(), response.is_new_version());
  return kExitOk;
}

int ShowSurface(const Arguments& arguments, Session& session) {
  v1::GetSurfaceRequest request;
  request.set_name(arguments.words()[0]);
  request.set_digest(arguments.Value("digest").value_or(""));
  v1::StoredSurface stored;
  grpc::ClientContext context;
  SetShortDeadline(context);
  const grpc::Status status = session.server.library->GetSurface(&context, request, &stored);
  if (!status.ok()) {
    return Fail(session, status);
  }
  ShowStored(session, stored, stored.surface());
  return kExitOk;
}

int ListSurfaces(const Arguments& /*arguments*/, Session& session) {
  v1::ListSurfacesResponse response;
  grpc::ClientContext context;
  SetShortDeadline(context);
  const grpc::Status status = session.server.library->ListSurfaces(&context, {}, &response);
  if (!status.ok()) {
    return Fail(session, status);
  }
  if (session.is_json) {
    session.console.out << ToJson(response);
    return kExitOk;
  }
  Table table({"surface", ">version", ">friction", "digest", "title"});
  for (const v1::StoredSurface& stored : response.surfaces()) {
    table.AddRow({stored.surface().name(),
                  absl::StrCat(stored.version()),
                  absl::StrFormat("%.2f +- %.2f",
                                  stored.surface().friction_coefficient(),
                                  stored.surface().friction_uncertainty_coefficient()),
                  ShortDigest(stored.digest()),
                  ShortTitle(stored.surface().title(), kMostTitle)});
  }
  session.console.out << (table.empty() ? "no surfaces; put one with: gaitshelf surface put FILE\n"
                                        : table.ToText());
  return kExitOk;
}

// Prints the answer of a check; faults go to console.err, as an error's do.
template <typename Response>
int ShowCheck(const Session& session,
              const std::string& path,
              const Response& response,
              const std::string& praise) {
  if (session.is_json) {
    session.console.out << ToJson(response);
    return response.violations().empty() ? kExitOk : kExitUsage;
  }
  if (response.violations().empty()) {
    session.console.out << path << ": no faults\n  " << praise << "digest "
                        << ShortDigest(response.digest()) << "\n";
    for (const v1::FieldViolation& warning : response.warnings()) {
      session.console.out << "  warning: " << warning.field() << ": " << FaultText(warning) << "\n";
    }
    return kExitOk;
  }
  return Fail(session, FromFaults(path, response.violations()));
}

// One line a leg with a linkage: how well it was compiled.
std::string CompiledText(const v1::CheckRobotResponse& response) {
  std::string text;
  for (const v1::CompiledLegReport& leg : response.compiled_legs()) {
    absl::StrAppendFormat(&text,
                          "%s: degree %d, fit %.1e, singular at %s%.1fx range, condition "
                          "%.0f\n  ",
                          leg.leg(),
                          leg.degree(),
                          leg.fit_error_ratio(),
                          leg.singularity_ratio() < 3.0 ? "" : ">",
                          leg.singularity_ratio(),
                          1.0 / leg.regularity_ratio());
  }
  return text;
}

int CheckRobot(const std::string& path, const std::string& text, Session& session) {
  v1::CheckRobotRequest request;
  if (const int code = ReadRobotText(session, path, text, request.mutable_robot());
      code != kExitOk) {
    return code;
  }
  v1::CheckRobotResponse response;
  grpc::ClientContext context;
  SetShortDeadline(context);
  const grpc::Status status = session.server.model->CheckRobot(&context, request, &response);
  if (!status.ok()) {
    return Fail(session, status);
  }
  return ShowCheck(session,
                   path,
                   response,
                   absl::StrFormat("%d coordinates, %d loop equations, %.3f g, stands %.2f mm "
                                   "high\n  %s",
                                   response.coordinate_count(),
                                   response.loop_equation_count(),
                                   response.total_mass_kg() * 1e3,
                                   response.standing_height_m() * 1e3,
                                   CompiledText(response)));
}

int CheckSurface(const std::string& path, const std::string& text, Session& session) {
  v1::CheckSurfaceRequest request;
  if (const int code = ReadSurfaceText(session, path, text, request.mutable_surface());
      code != kExitOk) {
    return code;
  }
  v1::CheckSurfaceResponse response;
  grpc::ClientContext context;
  SetShortDeadline(context);
  const grpc::Status status = session.server.model->CheckSurface(&context, request, &response);
  if (!status.ok()) {
    return Fail(session, status);
  }
  return ShowCheck(session, path, response, "");
}

int Check(const Arguments& arguments, Session& session) {
  const std::string& path = arguments.words()[0];
  // Read once: it may be a pipe.
  const absl::StatusOr<std::string> text = ReadDescriptionText(path);
  if (!text.ok()) {
    return Fail(session, text.status());
  }
  return KindOfText(path, *text) == DescriptionKind::kSurface ? CheckSurface(path, *text, session)
                                                              : CheckRobot(path, *text, session);
}

}  // namespace

std::vector<Verb> DescriptionVerbs() {
  const FlagSpec digest{"digest", "DIGEST", "a version by its whole digest instead of the current"};
  return {
      {{"check",
        {"FILE"},
        "check a robot or surface file, store nothing",
        "Prints every fault with its field, value and mend.",
        "gaitshelf check deploy/demo/weevil.robot.textproto",
        {}},
       Check},
      {{"robot put",
        {"FILE"},
        "store a robot; a changed one becomes the next version",
        "",
        "gaitshelf robot put deploy/demo/weevil.robot.textproto",
        {}},
       PutRobot},
      {{"robot show",
        {"ROBOT"},
        "print a robot as text",
        "",
        "gaitshelf robot show weevil",
        {digest}},
       ShowRobot},
      {{"robot list", {}, "list robots", "", "gaitshelf robot list", {}}, ListRobots},
      {{"surface put",
        {"FILE"},
        "store a surface; a changed one becomes the next version",
        "",
        "gaitshelf surface put deploy/demo/duct-steel.surface.textproto",
        {}},
       PutSurface},
      {{"surface show",
        {"SURFACE"},
        "print a surface as text",
        "",
        "gaitshelf surface show duct-steel",
        {digest}},
       ShowSurface},
      {{"surface list", {}, "list surfaces", "", "gaitshelf surface list", {}}, ListSurfaces},
  };
}

}  // namespace gaitshelf::client
