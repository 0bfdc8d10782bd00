// The verb modes: how a robot rings about its straight posture, and what its legs reach.
#include <cmath>
#include <optional>
#include <ostream>
#include <string>
#include <vector>

#include "absl/status/status.h"
#include "absl/strings/ascii.h"
#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/strings/str_join.h"
#include "clients/cli/description_file.h"
#include "clients/cli/exit_code.h"
#include "clients/cli/json.h"
#include "clients/cli/quantity.h"
#include "clients/cli/session.h"
#include "clients/cli/table.h"

namespace gaitshelf::client {
namespace {

// What --feet names; its choices have been checked.
v1::FootCondition ReadFeet(const std::string& text) {
  if (text == "sliding") {
    return v1::FOOT_CONDITION_SLIDING;
  }
  if (text == "sticking") {
    return v1::FOOT_CONDITION_STICKING;
  }
  return text == "free" ? v1::FOOT_CONDITION_FREE_FLIGHT : v1::FOOT_CONDITION_CLAMPED;
}

absl::StatusOr<v1::FindModesRequest> ReadFlags(const Arguments& arguments) {
  v1::FindModesRequest request;
  std::vector<std::string> faults;
  if (const std::optional<std::string> feet = arguments.Value("feet"); feet.has_value()) {
    request.set_foot_condition(ReadFeet(*feet));
  }
  if (const std::optional<std::string> text = arguments.Value("frequency"); text.has_value()) {
    const absl::StatusOr<double> frequency_hz = ParseQuantity(*text, Dimension::kFrequency);
    if (frequency_hz.ok()) {
      request.set_stride_frequency_hz(*frequency_hz);
    } else {
      faults.push_back(absl::StrCat("--frequency: ", frequency_hz.status().message()));
    }
  }
  if (!faults.empty()) {
    return absl::InvalidArgumentError(absl::StrJoin(faults, "\n"));
  }
  return request;
}

std::string FeetText(v1::FootCondition condition) {
  switch (condition) {
    case v1::FOOT_CONDITION_SLIDING:
      return "standing on sliding feet";
    case v1::FOOT_CONDITION_STICKING:
      return "standing on sticking feet";
    case v1::FOOT_CONDITION_CLAMPED:
      return "with its body clamped";
    default:
      return "in free flight";
  }
}

std::string Percent(double ratio) {
  const double percent = std::round(ratio * 100.0);
  return absl::StrFormat("%.0f %%", percent == 0.0 ? 0.0 : percent);  // never "-0"
}

std::string ModesText(const std::string& robot, const v1::FindModesResponse& response) {
  std::string text = absl::StrCat(robot, " ", FeetText(response.foot_condition()), "\n\n");
  Table table({"motion", ">frequency", ">damping", ">in body", ">in lifts", ">in swings"});
  for (const v1::Mode& mode : response.modes()) {
    double body = 0.0;
    for (const double share : mode.body_share_ratio()) {
      body += share;
    }
    table.AddRow({mode.name(),
                  mode.is_unstable() ? "unstable" : absl::StrFormat("%.2f Hz", mode.frequency_hz()),
                  absl::StrFormat("%.4f", mode.damping_ratio()),
                  Percent(body),
                  Percent(mode.lift_share_ratio()),
                  Percent(mode.swing_share_ratio())});
  }
  absl::StrAppend(&text, table.ToText(), "\n");
  absl::StrAppendFormat(&text,
                        "sample a plan at %.0f Hz or more: 4 per period of the highest (at least "
                        "%.0f Hz)\n",
                        response.least_sample_rate_hz(),
                        response.bare_sample_rate_hz());
  absl::StrAppendFormat(&text,
                        "reach: %.2f mm per cycle by swing travel, a foot standing %s of the "
                        "cycle\n",
                        response.advance_reach_m() * 1e3,
                        Percent(response.duty_ratio()));
  if (response.has_lift_margin_ratio()) {
    absl::StrAppendFormat(&text,
                          "lift drives: %s of their force is left with %s of the feet standing\n",
                          Percent(response.lift_margin_ratio()),
                          Percent(response.duty_ratio()));
  }
  for (const std::string& warning : response.warnings()) {
    absl::StrAppend(&text, "warning: ", warning, "\n");
  }
  return text;
}

int ShowModes(const Arguments& arguments, Session& session) {
  absl::StatusOr<v1::FindModesRequest> request = ReadFlags(arguments);
  if (!request.ok()) {
    return Fail(session, request.status());
  }
  const std::string& robot = arguments.words()[0];
  // It is a file when its name ends like one: no robot's name may hold a dot.
  if (!absl::EndsWith(robot, ".textproto")) {
    request->set_name(robot);
  } else if (const int code = ReadRobotFile(session, robot, request->mutable_robot());
             code != kExitOk) {
    return code;
  }
  v1::FindModesResponse response;
  grpc::ClientContext context;
  SetShortDeadline(context);
  const grpc::Status status = session.server.model->FindModes(&context, *request, &response);
  if (!status.ok()) {
    return Fail(session, status);
  }
  session.console.out << (session.is_json ? ToJson(response)
                                          : ModesText(request->has_robot() ? request->robot().name()
                                                                           : request->name(),
                                                      response));
  return kExitOk;
}

}  // namespace

std::vector<Verb> ModesVerbs() {
  return {{{"modes",
            {"ROBOT"},
            "show how a robot rings, and what its legs reach",
            "ROBOT is a name in the library or a file that ends in .textproto. Modes belong to\n"
            "small motions about the posture with all leg coordinates at 0, on a level surface.",
            "gaitshelf modes weevil --feet sliding --frequency 12Hz\n"
            "gaitshelf modes deploy/demo/earwig.robot.textproto",
            {{"feet", "sliding|sticking|free|clamped", "default sliding; free is in flight"},
             {"frequency", "FREQUENCY", "warn when this stride frequency sits on a mode"}}},
           ShowModes,
           [](const Arguments& arguments) { return ReadFlags(arguments).status(); }}};
}

}  // namespace gaitshelf::client
