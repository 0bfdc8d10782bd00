// The verbs for calibrations: calibrate, and list, show and accept what came of it.
#include <ostream>
#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "clients/cli/calibration_text.h"
#include "clients/cli/exit_code.h"
#include "clients/cli/json.h"
#include "clients/cli/run_calibration.h"
#include "clients/cli/session.h"

namespace gaitshelf::client {
namespace {

int Calibrate(const Arguments& arguments, Session& session) {
  v1::CalibrateRequest request;
  request.mutable_trials()->Assign(arguments.words().begin(), arguments.words().end());
  *request.mutable_options() = ReadCalibrationOptions(arguments).value();
  const CalibrationEnd end = RunCalibration(request, arguments.Has("quiet"), session);
  if (end.exit_code != kExitOk) {
    return end.exit_code;
  }
  const v1::Calibration& calibration = end.calibration;
  session.console.out << (session.is_json ? ToJson(calibration) : CalibrationText(calibration))
                      << std::flush;
  if (!calibration.has_calibrated_robot() && !calibration.has_calibrated_surface()) {
    return kExitOk;  // there is nothing that could become current
  }
  if (IsWanted(calibration, arguments, session)) {
    return AcceptCalibration(calibration.name(), session);
  }
  SayHowToAccept(calibration.name(), session);
  return kExitOk;
}

absl::Status CheckCalibrate(const Arguments& arguments) {
  return ReadCalibrationOptions(arguments).status();
}

int ListCalibrations(const Arguments& arguments, Session& session) {
  v1::ListCalibrationsRequest request;
  request.set_robot(arguments.Value("robot").value_or(""));
  request.set_surface(arguments.Value("surface").value_or(""));
  // A calibration carries its robot: a page of these stays well below what a message may hold.
  request.set_page_size(100);
  v1::ListCalibrationsResponse all;
  do {
    v1::ListCalibrationsResponse page;
    grpc::ClientContext context;
    SetShortDeadline(context);
    const grpc::Status status =
        session.server.calibrations->ListCalibrations(&context, request, &page);
    if (!status.ok()) {
      return Fail(session, status);
    }
    all.mutable_calibrations()->MergeFrom(page.calibrations());
    request.set_page_token(page.next_page_token());
  } while (!request.page_token().empty());
  if (session.is_json) {
    session.console.out << ToJson(all);
    return kExitOk;
  }
  session.console.out << (all.calibrations().empty()
                              ? "no calibrations; make one with: gaitshelf calibrate --help\n"
                              : CalibrationTable(all));
  return kExitOk;
}

// Gets the calibration that the command line names; false after a failure was shown.
bool Get(const Arguments& arguments, Session& session, v1::Calibration* calibration, int* code) {
  v1::GetCalibrationRequest request;
  request.set_name(arguments.words()[0]);
  grpc::ClientContext context;
  SetShortDeadline(context);
  const grpc::Status status =
      session.server.calibrations->GetCalibration(&context, request, calibration);
  *code = status.ok() ? kExitOk : Fail(session, status);
  return status.ok();
}

int ShowCalibration(const Arguments& arguments, Session& session) {
  v1::Calibration calibration;
  int code = kExitOk;
  if (Get(arguments, session, &calibration, &code)) {
    session.console.out << (session.is_json ? ToJson(calibration) : CalibrationText(calibration));
  }
  return code;
}

int Accept(const Arguments& arguments, Session& session) {
  v1::Calibration calibration;
  int code = kExitOk;
  if (!Get(arguments, session, &calibration, &code)) {
    return code;
  }
  if (!calibration.has_calibrated_robot() && !calibration.has_calibrated_surface()) {
    return Fail(session,
                absl::FailedPreconditionError(absl::StrCat(
                    calibration.name(), " tells nothing better than the descriptions do")));
  }
  if (!IsWanted(calibration, arguments, session)) {
    SayHowToAccept(calibration.name(), session);
    return kExitError;
  }
  return AcceptCalibration(calibration.name(), session);
}

std::vector<FlagSpec> CalibrateFlags() {
  std::vector<FlagSpec> flags = CalibrationFlags();
  flags.push_back({"yes", "", "make the calibrated versions current without asking"});
  return flags;
}

}  // namespace

std::vector<Verb> CalibrationVerbs() {
  return {
      {{"calibrate",
        {"TRIAL..."},
        "fit a robot and a surface to trials, with uncertainties",
        "Tilt and sled tests tell friction; ring-downs, steps and chirps of a leg its\n"
        "stiffness, damping and gain; runs of gaits some of what these leave open. What the\n"
        "data do not tell is named and stays as described. The result is kept as a new\n"
        "version; before that becomes the current one you are asked.",
        "gaitshelf calibrate t-0123456789abcdef0123456789abcdef --tilt-uncertainty 0.2deg",
        CalibrateFlags()},
       Calibrate,
       CheckCalibrate},
      {{"calibration list",
        {},
        "list calibrations, newest first",
        "",
        "gaitshelf calibration list --robot weevil",
        {{"robot", "ROBOT", "only those of this robot"},
         {"surface", "SURFACE", "only those of this surface"}}},
       ListCalibrations},
      {{"calibration show",
        {"CALIBRATION"},
        "show each number with its interval",
        "",
        "gaitshelf calibration show c-0123456789abcdef0123456789abcdef",
        {}},
       ShowCalibration},
      {{"calibration accept",
        {"CALIBRATION"},
        "make what was found the current versions",
        "Asks first. Versions that were there are kept, and so are gaits for them.",
        "gaitshelf calibration accept c-0123456789abcdef0123456789abcdef --yes",
        {{"yes", "", "do not ask"}}},
       Accept},
  };
}

}  // namespace gaitshelf::client
