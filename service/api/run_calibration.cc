#include "service/api/run_calibration.h"

#include <algorithm>
#include <cstdint>
#include <deque>
#include <memory>
#include <set>
#include <thread>
#include <utility>

#include "absl/strings/escaping.h"
#include "absl/strings/str_cat.h"
#include "service/api/load_trial.h"
#include "service/api/status.h"
#include "service/library/checksum.h"
#include "service/library/stored_gait.h"
#include "solver/base/status_macros.h"
#include "solver/calibrate/calibrate.h"
#include "solver/calibrate/predict.h"
#include "solver/leg/compile_leg.h"
#include "solver/measure/check_trial.h"
#include "solver/robot/check.h"
#include "solver/robot/digest.h"
#include "solver/robot/violation.h"

namespace gaitshelf::service {
namespace {

constexpr int kMostTrials = 100;
constexpr std::size_t kNameDigits = 32;

// A table points at its trial.
struct LoadedTrial {
  v1::Trial trial;
  std::unique_ptr<solver::TrialTable> table;
};

absl::Status CheckRequest(const v1::CalibrateRequest& request) {
  solver::Violations faults = solver::CheckCalibrationOptions(request.options());
  if (request.trials().empty() || request.trials_size() > kMostTrials) {
    solver::AddFault({"trials",
                      absl::StrCat(request.trials_size(), " names"),
                      "must be 1 to 100",
                      "name the trials to calibrate by"},
                     &faults);
  }
  std::set<std::string> seen;
  for (int i = 0; i < request.trials_size(); ++i) {
    if (!seen.insert(request.trials(i)).second) {
      solver::AddFault({absl::StrCat("trials[", i, "]"),
                        solver::QuotedText(request.trials(i)),
                        "is there twice",
                        "name each trial once, or it counts twice"},
                       &faults);
    }
  }
  return faults.empty() ? absl::OkStatus() : InvalidRequest(faults);
}

// What all trials have in common: a version of a robot, a version of a surface.
struct Subject {
  std::string name{};
  std::string digest{};
  std::string trial{};  // that it was seen in first
};

// Trials must agree wherever they say anything.
void Join(const std::string& word,
          const Subject& of_trial,
          int index,
          Subject* common,
          solver::Violations* faults) {
  // Digests leave names out: two names may have one digest.
  if (of_trial.name.empty() ||
      (of_trial.name == common->name && of_trial.digest == common->digest)) {
    return;
  }
  if (common->name.empty()) {
    *common = of_trial;
    return;
  }
  const bool is_version = common->name == of_trial.name;
  solver::AddFault({absl::StrCat("trials[", index, "]"),
                    solver::QuotedText(of_trial.trial),
                    is_version ? absl::StrCat("is of another version of ",
                                              word,
                                              " '",
                                              of_trial.name,
                                              "' than trial '",
                                              common->trial,
                                              "'")
                               : absl::StrCat("is of ",
                                              word,
                                              " '",
                                              of_trial.name,
                                              "', and trial '",
                                              common->trial,
                                              "' of '",
                                              common->name,
                                              "'"),
                    is_version ? "calibrate by trials of one version" : "calibrate them apart"},
                   faults);
}

// A deque, because tables point at their trials.
absl::Status ReadTrials(Library* library,
                        const v1::CalibrateRequest& request,
                        std::deque<LoadedTrial>* trials) {
  std::int64_t value_count = 0;
  for (const std::string& name : request.trials()) {
    LoadedTrial& loaded = trials->emplace_back();
    GAITSHELF_ASSIGN_OR_RETURN(loaded.trial, library->GetTrial(name));
    for (const v1::TrialGroup& group : loaded.trial.groups()) {
      value_count += group.row_count() * group.columns_size();
    }
  }
  if (value_count > solver::TrialLimits::kMostValues) {
    return absl::ResourceExhaustedError(absl::StrCat("the trials have ",
                                                     value_count,
                                                     " values together, more than ",
                                                     solver::TrialLimits::kMostValues,
                                                     "; calibrate by fewer"));
  }
  return absl::OkStatus();
}

absl::Status FindSubjects(const std::deque<LoadedTrial>& trials, Subject* robot, Subject* surface) {
  solver::Violations faults;
  int index = 0;
  for (const LoadedTrial& loaded : trials) {
    const v1::Trial& trial = loaded.trial;
    Join("robot", {trial.robot(), trial.robot_digest(), trial.name()}, index, robot, &faults);
    Join("surface",
         {trial.surface(), trial.surface_digest(), trial.name()},
         index,
         surface,
         &faults);
    ++index;
  }
  return faults.empty() ? absl::OkStatus() : InvalidRequest(faults);
}

// Names the calibration by its content, and its descriptions by theirs.
absl::Status Name(v1::Calibration* calibration) {
  if (calibration->has_calibrated_robot()) {
    calibration->set_calibrated_robot_digest(solver::RobotDigest(calibration->calibrated_robot()));
  }
  if (calibration->has_calibrated_surface()) {
    calibration->set_calibrated_surface_digest(
        solver::SurfaceDigest(calibration->calibrated_surface()));
  }
  v1::Calibration content = *calibration;
  content.clear_name();
  content.clear_create_time();
  content.clear_requester();
  GAITSHELF_ASSIGN_OR_RETURN(const std::string digest, Sha256(content.SerializeAsString()));
  calibration->set_name(absl::StrCat("c-", absl::BytesToHexString(digest).substr(0, kNameDigits)));
  return absl::OkStatus();
}

// A number that was fitted may break a rule of the description; then nobody should get it.
absl::Status CheckDescriptions(const v1::Calibration& calibration) {
  solver::Violations faults;
  if (calibration.has_calibrated_robot()) {
    faults = solver::CheckRobot(calibration.calibrated_robot());
  }
  if (calibration.has_calibrated_surface()) {
    for (v1::FieldViolation& fault : solver::CheckSurface(calibration.calibrated_surface())) {
      faults.push_back(std::move(fault));
    }
  }
  if (faults.empty()) {
    return absl::OkStatus();
  }
  return absl::FailedPreconditionError(
      absl::StrCat("what the trials tell is no valid description: ",
                   faults[0].field(),
                   " = ",
                   faults[0].value(),
                   " ",
                   faults[0].problem()));
}

std::string WithSource(const std::string& title, const std::string& calibration) {
  constexpr std::size_t kLongestTitle = 500;
  const std::string source = absl::StrCat("calibrated by ", calibration);
  const std::string joined = title.empty() ? source : absl::StrCat(title, "; ", source);
  return joined.size() <= kLongestTitle ? joined : source;
}

// The current version of what was calibrated must be that which was started from, or already the
// calibrated one.
template <typename Stored>
absl::Status CheckCurrent(const absl::StatusOr<Stored>& current,
                          const std::string& started_from,
                          const std::string& calibrated,
                          const std::string& what) {
  if (!current.ok()) {
    return current.status();
  }
  if (current->digest() == started_from || current->digest() == calibrated) {
    return absl::OkStatus();
  }
  return WithReason(absl::FailedPreconditionError(
                        absl::StrCat(what,
                                     " got another current version since the trials; calibrate by "
                                     "trials of that one")),
                    "NOT_CURRENT");
}

}  // namespace

absl::StatusOr<v1::Calibration> RunCalibration(Library* library, const CalibrationRun& run) {
  GAITSHELF_RETURN_IF_ERROR(CheckRequest(run.request));
  std::deque<LoadedTrial> trials;
  GAITSHELF_RETURN_IF_ERROR(ReadTrials(library, run.request, &trials));
  Subject robot, surface;
  GAITSHELF_RETURN_IF_ERROR(FindSubjects(trials, &robot, &surface));
  solver::CalibrationRequest request;
  if (!robot.name.empty()) {
    GAITSHELF_ASSIGN_OR_RETURN(const v1::StoredRobot stored,
                               library->GetRobot(robot.name, robot.digest));
    request.robot = stored.robot();
  }
  if (!surface.name.empty()) {
    GAITSHELF_ASSIGN_OR_RETURN(const v1::StoredSurface stored,
                               library->GetSurface(surface.name, surface.digest));
    request.surface = stored.surface();
  }
  for (LoadedTrial& loaded : trials) {
    loaded.table = std::make_unique<solver::TrialTable>(&loaded.trial);
    GAITSHELF_RETURN_IF_ERROR(ReadSamples(library, loaded.trial.name(), loaded.table.get()));
    request.trials.push_back(loaded.table.get());
    const std::string& gait = loaded.trial.gait();
    if (!gait.empty() && request.gaits.count(gait) == 0) {
      GAITSHELF_ASSIGN_OR_RETURN(request.gaits[gait], LoadGait(library, gait));
    }
  }
  request.options = run.request.options();
  // Leaves room for calls and workers.
  request.thread_count = std::max(1, static_cast<int>(std::thread::hardware_concurrency()) / 2);
  request.stop = run.stop;
  request.on_progress = run.on_progress;
  GAITSHELF_ASSIGN_OR_RETURN(v1::Calibration calibration, solver::Calibrate(request));
  GAITSHELF_RETURN_IF_ERROR(CheckDescriptions(calibration));
  calibration.set_robot(robot.name);
  calibration.set_robot_digest(robot.digest);
  calibration.set_surface(surface.name);
  calibration.set_surface_digest(surface.digest);
  GAITSHELF_RETURN_IF_ERROR(Name(&calibration));
  calibration.set_requester(run.requester);
  GAITSHELF_ASSIGN_OR_RETURN(InsertedCalibration inserted, library->InsertCalibration(calibration));
  return std::move(inserted.calibration);
}

absl::StatusOr<v1::AcceptCalibrationResponse>
AcceptStoredCalibration(Library* library, const std::string& name, const std::string& requester) {
  if (name.empty()) {
    return MissingField("name", "give a calibration's name");
  }
  GAITSHELF_ASSIGN_OR_RETURN(const v1::Calibration calibration, library->GetCalibration(name));
  // Both before either is put.
  if (calibration.has_calibrated_robot()) {
    GAITSHELF_RETURN_IF_ERROR(CheckCurrent(library->GetRobot(calibration.robot(), ""),
                                           calibration.robot_digest(),
                                           calibration.calibrated_robot_digest(),
                                           absl::StrCat("robot '", calibration.robot(), "'")));
  }
  if (calibration.has_calibrated_surface()) {
    GAITSHELF_RETURN_IF_ERROR(CheckCurrent(library->GetSurface(calibration.surface(), ""),
                                           calibration.surface_digest(),
                                           calibration.calibrated_surface_digest(),
                                           absl::StrCat("surface '", calibration.surface(), "'")));
  }
  v1::AcceptCalibrationResponse response;
  if (calibration.has_calibrated_robot()) {
    v1::Robot robot = calibration.calibrated_robot();
    robot.set_title(WithSource(robot.title(), name));
    GAITSHELF_ASSIGN_OR_RETURN(const v1::LegTables tables, solver::CompileLegs(robot));
    const std::string& digest = calibration.calibrated_robot_digest();
    GAITSHELF_RETURN_IF_ERROR(library->PutLegTables(digest, tables));
    GAITSHELF_ASSIGN_OR_RETURN(PutRobotResult put, library->PutRobot(robot, digest, requester));
    *response.mutable_robot() = std::move(put.stored);
  }
  if (calibration.has_calibrated_surface()) {
    v1::Surface surface = calibration.calibrated_surface();
    surface.set_title(WithSource(surface.title(), name));
    GAITSHELF_ASSIGN_OR_RETURN(
        PutSurfaceResult put,
        library->PutSurface(surface, calibration.calibrated_surface_digest(), requester));
    *response.mutable_surface() = std::move(put.stored);
  }
  return response;
}

absl::StatusOr<v1::ReplayGaitResponse> ReplayStoredGait(Library* library,
                                                        const v1::ReplayGaitRequest& request,
                                                        const std::atomic<bool>* stop) {
  if (request.gait().empty()) {
    return MissingField("gait", "give a gait's name");
  }
  GAITSHELF_ASSIGN_OR_RETURN(const v1::Gait gait, LoadGait(library, request.gait()));
  const auto or_else = [](const std::string& digest, const std::string& other) {
    return digest.empty() ? other : digest;
  };
  GAITSHELF_ASSIGN_OR_RETURN(
      const v1::StoredRobot robot,
      library->GetRobot(gait.robot(), or_else(request.robot_digest(), gait.robot_digest())));
  GAITSHELF_ASSIGN_OR_RETURN(
      const v1::StoredSurface surface,
      library->GetSurface(gait.surface(),
                          or_else(request.surface_digest(), gait.surface_digest())));
  GAITSHELF_ASSIGN_OR_RETURN(
      solver::Prediction prediction,
      solver::PredictReplay(
          {.robot = robot.robot(), .surface = surface.surface(), .gait = gait, .stop = stop}));
  v1::ReplayGaitResponse response;
  *response.mutable_replay() = std::move(prediction.replay);
  response.set_trouble(prediction.trouble);
  return response;
}

}  // namespace gaitshelf::service
