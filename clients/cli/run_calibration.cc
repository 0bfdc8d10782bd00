#include "clients/cli/run_calibration.h"

#include <istream>
#include <ostream>

#include "absl/strings/ascii.h"
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/strings/str_join.h"
#include "clients/cli/calibration_text.h"
#include "clients/cli/exit_code.h"
#include "clients/cli/quantity.h"
#include "clients/cli/trial_text.h"

namespace gaitshelf::client {
namespace {

// Draws how far it is over the line before on a terminal; elsewhere one line for each step.
class Follower {
 public:
  Follower(Console& console, bool is_quiet) : console_(console), is_quiet_(is_quiet) {}

  void Show(const v1::CalibrationProgress& progress) {
    if (is_quiet_) {
      return;
    }
    if (console_.err_is_terminal) {
      console_.err << "\r" << absl::StrFormat("%3.0f %% ", 100.0 * progress.done_ratio())
                   << progress.step() << "\033[K" << std::flush;
      is_open_ = true;
    } else if (progress.step() != last_step_) {
      console_.err << progress.step() << std::endl;
    }
    last_step_ = progress.step();
  }
  void Finish() {
    if (is_open_) {
      console_.err << "\r\033[K" << std::flush;
      is_open_ = false;
    }
  }

 private:
  Console& console_;
  const bool is_quiet_;
  bool is_open_ = false;
  std::string last_step_;
};

}  // namespace

std::vector<FlagSpec> CalibrationFlags() {
  return {{"tilt-uncertainty", "ANGLE", "standard uncertainty of a tilted plane, such as 0.2deg"},
          {"force-uncertainty", "RATIO", "the same of pull over normal force, such as 0.01"},
          {"quiet", "", "show no progress"}};
}

absl::StatusOr<v1::CalibrationOptions> ReadCalibrationOptions(const Arguments& arguments) {
  v1::CalibrationOptions options;
  std::vector<std::string> faults;
  if (const auto text = arguments.Value("tilt-uncertainty"); text.has_value()) {
    const auto angle_rad = ParseQuantity(*text, Dimension::kAngle);
    if (angle_rad.ok()) {
      options.set_tilt_uncertainty_rad(*angle_rad);
    } else {
      faults.push_back(absl::StrCat("--tilt-uncertainty: ", angle_rad.status().message()));
    }
  }
  if (const auto text = arguments.Value("force-uncertainty"); text.has_value()) {
    double ratio = 0.0;
    if (absl::SimpleAtod(*text, &ratio)) {
      options.set_force_uncertainty_ratio(ratio);
    } else {
      faults.push_back(
          absl::StrCat("--force-uncertainty: '", *text, "' is no number; write such as 0.01"));
    }
  }
  if (!faults.empty()) {
    return absl::InvalidArgumentError(absl::StrJoin(faults, "\n"));
  }
  return options;
}

CalibrationEnd RunCalibration(const v1::CalibrateRequest& request,
                              bool is_quiet,
                              Session& session) {
  // Without a deadline: fits to runs of gaits take as long as they need, and tell their progress.
  grpc::ClientContext context;
  SetRequester(context);
  const InterruptScope interrupt(session.console.interrupts, [&context] { context.TryCancel(); });
  const auto reader = session.server.calibrations->Calibrate(&context, request);
  Follower follower(session.console, is_quiet);
  CalibrationEnd end;
  v1::CalibrateResponse response;
  while (reader->Read(&response)) {
    if (response.has_progress()) {
      follower.Show(response.progress());
    } else {
      end.calibration = response.calibration();
    }
  }
  follower.Finish();
  if (const grpc::Status status = reader->Finish(); !status.ok()) {
    if (interrupt.was_interrupted()) {
      session.console.err << "stopped; nothing was kept\n";
      end.exit_code = kExitInterrupted;
    } else {
      end.exit_code = Fail(session, status);
    }
  }
  return end;
}

int AcceptCalibration(const std::string& name, Session& session) {
  v1::AcceptCalibrationRequest request;
  request.set_name(name);
  v1::AcceptCalibrationResponse response;
  grpc::ClientContext context;
  SetShortDeadline(context);
  SetRequester(context);
  const grpc::Status status =
      session.server.calibrations->AcceptCalibration(&context, request, &response);
  if (!status.ok()) {
    return Fail(session, status);
  }
  // Whoever reads JSON has had the one message that belongs on `out`.
  (session.is_json ? session.console.err : session.console.out) << AcceptedText(response);
  return kExitOk;
}

bool IsWanted(const v1::Calibration& calibration,
              const Arguments& arguments,
              const Session& session) {
  std::vector<std::string> what;
  if (calibration.has_calibrated_robot()) {
    what.push_back(absl::StrCat("robot ", calibration.robot()));
  }
  if (calibration.has_calibrated_surface()) {
    what.push_back(absl::StrCat("surface ", calibration.surface()));
  }
  if (what.empty() || arguments.Has("yes") || session.is_json) {
    return !what.empty() && arguments.Has("yes");
  }
  session.console.err << (calibration.is_invented() ? "The trials are invented.\n" : "")
                      << WrappedText(absl::StrCat("Make this the current version of ",
                                                  absl::StrJoin(what, " and "),
                                                  "?"),
                                     "",
                                     "  ")
                      << "The one before is kept. Type yes: " << std::flush;
  std::string answer;
  if (!std::getline(session.console.in, answer)) {
    session.console.err << "\n";  // nobody is there
  }
  return absl::StripAsciiWhitespace(answer) == "yes";
}

void SayHowToAccept(const std::string& name, const Session& session) {
  session.console.err << "nothing became current; do it later:\n  gaitshelf calibration accept "
                      << name << "\n";
}

}  // namespace gaitshelf::client
