// The verb that goes from trials to new gaits: calibrate, plan anew, predict, and ask.
#include <algorithm>
#include <map>
#include <numeric>
#include <ostream>
#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "absl/strings/str_split.h"
#include "clients/cli/calibration_text.h"
#include "clients/cli/exit_code.h"
#include "clients/cli/follow_job.h"
#include "clients/cli/json.h"
#include "clients/cli/run_calibration.h"
#include "clients/cli/session.h"
#include "clients/cli/table.h"
#include "clients/cli/trial_verbs.h"

namespace gaitshelf::client {
namespace {

// What a command line asks for, as the server knows it.
struct Plan {
  v1::CalibrateRequest calibrate{};  // by the bench tests among the trials, or by runs of gaits
  std::vector<v1::Gait> gaits{};     // that are planned anew
  std::map<std::string, std::vector<double>> strides_m{};  // that trials measured, by gait
};

// Adds what a trial is good for: a bench test calibrates, a run of a gait says how far it went, and
// calibrates where there is no bench test.
grpc::Status AddTrial(const std::string& name,
                      const v1::AnalysisOptions& options,
                      Session& session,
                      std::vector<std::string>* gaits,
                      Plan* plan) {
  v1::GetTrialRequest get;
  get.set_name(name);
  v1::Trial trial;
  grpc::ClientContext context;
  SetShortDeadline(context);
  if (grpc::Status status = session.server.trials->GetTrial(&context, get, &trial); !status.ok()) {
    return status;
  }
  if (trial.kind() != v1::TRIAL_KIND_GAIT) {
    plan->calibrate.add_trials(name);
    return grpc::Status::OK;
  }
  if (std::find(gaits->begin(), gaits->end(), trial.gait()) == gaits->end()) {
    gaits->push_back(trial.gait());
  }
  v1::AnalyseTrialRequest analyse;
  analyse.set_name(name);
  *analyse.mutable_options() = options;
  v1::AnalyseTrialResponse response;
  grpc::ClientContext analyse_context;
  SetLongDeadline(analyse_context);
  grpc::Status status = session.server.trials->AnalyseTrial(&analyse_context, analyse, &response);
  if (status.ok() && response.analysis().stride_m().count() > 0) {
    plan->strides_m[trial.gait()].push_back(response.analysis().stride_m().mean_si());
  }
  return status;
}

grpc::Status GetGait(const std::string& name, Session& session, v1::Gait* gait) {
  v1::GetGaitRequest get;
  get.set_name(name);
  grpc::ClientContext context;
  SetShortDeadline(context);
  return session.server.library->GetGait(&context, get, gait);
}

// The gaits of the command line; none when the trials say which.
std::vector<std::string> NamedGaits(const Arguments& arguments) {
  return absl::StrSplit(arguments.Value("gaits").value_or(""), ',', absl::SkipEmpty());
}

// Looks at trials and gaits before anything takes long. Returns an exit code.
int Prepare(const Arguments& arguments, Session& session, Plan* plan) {
  *plan->calibrate.mutable_options() = ReadCalibrationOptions(arguments).value();
  const v1::AnalysisOptions options = ReadAnalysisOptions(arguments).value();
  std::vector<std::string> of_trials;
  for (const std::string& name : arguments.words()) {
    if (const grpc::Status status = AddTrial(name, options, session, &of_trials, plan);
        !status.ok()) {
      return Fail(session, status);
    }
  }
  std::vector<std::string> names = NamedGaits(arguments);
  names = names.empty() ? of_trials : names;
  std::vector<std::string> faults;
  if (plan->calibrate.trials().empty()) {
    *plan->calibrate.mutable_trials() = {arguments.words().begin(), arguments.words().end()};
  }
  if (names.empty()) {
    faults.emplace_back(
        "--gaits is missing: none of the trials is of a gait; name those to plan "
        "anew");
  }
  for (const std::string& name : names) {
    if (const grpc::Status status = GetGait(name, session, &plan->gaits.emplace_back());
        !status.ok()) {
      return Fail(session, status);
    }
    const v1::Advance& advance = plan->gaits.back().task().advance();
    if (advance.advance_m() == 0.0 && !advance.is_maximal()) {
      faults.push_back(absl::StrCat("--gaits: ",
                                    name,
                                    " goes nowhere ahead, so that a gain has no "
                                    "measure; order it anew after gaitshelf calibrate"));
    }
  }
  return faults.empty() ? kExitOk
                        : Fail(session, absl::InvalidArgumentError(absl::StrJoin(faults, "\n")));
}

// The versions that a gait is looked at on: calibrated where the calibration is of its robot or
// surface, else those that it was planned for.
struct Versions {
  std::string robot_digest{};
  std::string surface_digest{};
};

// A gait of several surfaces keeps the others as they are.
Versions VersionsFor(const v1::Gait& gait, const v1::Calibration& calibration) {
  const bool is_robot = calibration.has_calibrated_robot() && calibration.robot() == gait.robot();
  const bool is_surface =
      calibration.has_calibrated_surface() && calibration.surface() == gait.surface();
  return {is_robot ? calibration.calibrated_robot_digest() : gait.robot_digest(),
          is_surface ? calibration.calibrated_surface_digest() : gait.surface_digest()};
}

grpc::Status Replay(const std::string& gait,
                    const Versions& versions,
                    Session& session,
                    double* stride_m) {
  v1::ReplayGaitRequest request;
  request.set_gait(gait);
  request.set_robot_digest(versions.robot_digest);
  request.set_surface_digest(versions.surface_digest);
  v1::ReplayGaitResponse response;
  grpc::ClientContext context;
  SetLongDeadline(context);
  grpc::Status status = session.server.calibrations->ReplayGait(&context, request, &response);
  *stride_m = response.trouble().empty() ? response.replay().advance_m() : 0.0;
  return status;
}

// Orders the gait that takes another's place, and follows its job. Leaves the report without a new
// gait when the job ends without a good one. Returns an exit code.
int PlanAnew(const v1::Gait& gait,
             const Versions& versions,
             bool is_quiet,
             Session& session,
             v1::ReplannedGait* report) {
  v1::OrderGaitRequest request;
  v1::GaitOrder& order = *request.mutable_order();
  order.set_robot(gait.robot());
  order.set_surface(gait.surface());
  order.set_stride_frequency_hz(gait.stride_frequency_hz());
  *order.mutable_task() = gait.task();
  order.set_objective(gait.objective());
  request.set_requester(LoginName());
  request.set_robot_digest(versions.robot_digest);
  request.set_surface_digest(versions.surface_digest);
  for (const v1::SurfaceVersion& version : gait.also_on()) {
    order.add_also_on(version.surface());
    request.add_also_on_digests(version.digest());
  }
  v1::OrderGaitResponse response;
  grpc::ClientContext context;
  SetShortDeadline(context);
  if (const grpc::Status status = session.server.jobs->OrderGait(&context, request, &response);
      !status.ok()) {
    return Fail(session, status);
  }
  if (response.has_gait()) {
    report->set_new_gait(response.gait().name());
    return kExitOk;
  }
  const FollowedJob followed = FollowToEnd(response.job().name(), is_quiet, session);
  if (followed.exit_code != kExitOk) {
    return followed.exit_code;
  }
  const v1::Job& job = followed.last.job();
  if (job.state() == v1::JOB_STATE_DONE) {
    report->set_new_gait(followed.last.gait().name());
  } else {
    report->set_trouble(absl::StrCat("job ",
                                     job.name(),
                                     " ",
                                     StateText(job.state()),
                                     job.failure_reason().empty() ? "" : ": ",
                                     job.failure_reason()));
  }
  return kExitOk;
}

int ReplanOne(const v1::Gait& gait,
              const v1::Calibration& calibration,
              bool is_quiet,
              Session& session,
              v1::ReplannedGait* report) {
  const Versions versions = VersionsFor(gait, calibration);
  report->set_gait(gait.name());
  if (!gait.task().advance().is_maximal()) {
    report->set_asked_m(gait.task().advance().advance_m());
  }
  report->set_described_m(gait.audit().replay().advance_m());
  if (versions.robot_digest == gait.robot_digest() &&
      versions.surface_digest == gait.surface_digest()) {
    report->set_trouble("the calibration is not of its robot or surface, or found nothing new");
    report->set_before_m(gait.audit().replay().advance_m());
    return kExitOk;
  }
  double stride_m = 0.0;
  if (const grpc::Status status = Replay(gait.name(), versions, session, &stride_m); !status.ok()) {
    return Fail(session, status);
  }
  report->set_before_m(stride_m);
  if (const int code = PlanAnew(gait, versions, is_quiet, session, report); code != kExitOk) {
    return code;
  }
  if (!report->new_gait().empty()) {
    if (const grpc::Status status = Replay(report->new_gait(), versions, session, &stride_m);
        !status.ok()) {
      return Fail(session, status);
    }
    report->set_after_m(stride_m);
  }
  return kExitOk;
}

// Shows the report and makes the calibration current if that is wanted. Returns the exit code.
int End(const v1::Calibration& calibration,
        const Arguments& arguments,
        v1::ReplanReport* report,
        Session& session) {
  if (!session.is_json) {
    session.console.out << "\n" << ReplanText(*report) << std::flush;
  }
  int code = kExitOk;
  if (IsWanted(calibration, arguments, session)) {
    code = AcceptCalibration(calibration.name(), session);
    report->set_is_accepted(code == kExitOk);
  } else {
    SayHowToAccept(calibration.name(), session);
  }
  if (session.is_json) {
    session.console.out << ToJson(*report);
  }
  const bool is_whole = std::all_of(
      report->gaits().begin(), report->gaits().end(), [](const v1::ReplannedGait& gait) {
        return !gait.new_gait().empty();
      });
  return code != kExitOk || is_whole ? code : kExitFailedJob;
}

double Mean(const std::vector<double>& values) {
  return std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
}

int Replan(const Arguments& arguments, Session& session) {
  Plan plan;
  if (const int code = Prepare(arguments, session, &plan); code != kExitOk) {
    return code;
  }
  const bool is_quiet = arguments.Has("quiet");
  const CalibrationEnd end = RunCalibration(plan.calibrate, is_quiet, session);
  if (end.exit_code != kExitOk) {
    return end.exit_code;
  }
  const v1::Calibration& calibration = end.calibration;
  if (!session.is_json) {
    session.console.out << CalibrationText(calibration) << std::flush;
  }
  if (!calibration.has_calibrated_robot() && !calibration.has_calibrated_surface()) {
    return Fail(session,
                absl::FailedPreconditionError(
                    "the trials tell nothing better than the descriptions do, so the gaits stay"));
  }
  v1::ReplanReport report;
  report.set_calibration(calibration.name());
  for (const v1::Gait& before : plan.gaits) {
    v1::ReplannedGait& gait = *report.add_gaits();
    if (const int code = ReplanOne(before, calibration, is_quiet, session, &gait);
        code != kExitOk) {
      return code;
    }
    if (const auto strides = plan.strides_m.find(before.name()); strides != plan.strides_m.end()) {
      gait.set_measured_m(Mean(strides->second));
    }
  }
  return End(calibration, arguments, &report, session);
}

absl::Status CheckReplan(const Arguments& arguments) {
  std::vector<std::string> faults;
  for (const absl::Status& status :
       {ReadCalibrationOptions(arguments).status(), ReadAnalysisOptions(arguments).status()}) {
    if (!status.ok()) {
      faults.emplace_back(status.message());
    }
  }
  return faults.empty() ? absl::OkStatus()
                        : absl::InvalidArgumentError(absl::StrJoin(faults, "\n"));
}

std::vector<FlagSpec> ReplanFlags() {
  std::vector<FlagSpec> flags = {
      {"gaits", "GAIT,...", "the gaits to plan anew; those of the trials when absent"}};
  for (const auto& more : {CalibrationFlags(), AnalysisFlags()}) {
    flags.insert(flags.end(), more.begin(), more.end());
  }
  flags.push_back({"yes", "", "make the calibrated versions current without asking"});
  return flags;
}

}  // namespace

std::vector<Verb> ReplanVerbs() {
  return {
      {{"replan",
        {"TRIAL..."},
        "calibrate by trials, plan gaits anew and predict the gain",
        "Calibrates by the bench tests among the trials, or without any by the runs of\n"
        "gaits, orders these gaits (or --gaits) for what was found, and replays old and new\n"
        "on it. New gaits are kept whatever you answer; robot and surface become current\n"
        "only when you say yes.",
        "gaitshelf replan t-0123456789abcdef0123456789abcdef --gaits "
        "g-0123456789abcdef0123456789abcdef",
        ReplanFlags()},
       Replan,
       CheckReplan},
  };
}

}  // namespace gaitshelf::client
