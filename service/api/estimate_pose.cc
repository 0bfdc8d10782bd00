#include "service/api/estimate_pose.h"

#include <string>

#include "absl/strings/str_cat.h"
#include "service/api/load_trial.h"
#include "service/api/status.h"
#include "service/api/study_trial.h"
#include "solver/base/status_macros.h"
#include "solver/pose/trial_pose.h"
#include "solver/robot/violation.h"

namespace gaitshelf::service {
namespace {

// 0.45 MB, so that a block stays below the 1 MiB of a message.
constexpr int kMostBlockPoses = 8000;
constexpr double kMostDelayS = 10.0;
constexpr double kMostRateHz = 1e5;
constexpr double kMostNoiseM = 0.1;
constexpr double kMostNoiseRad = 1.0;

void CheckRange(const std::string& field,
                double value,
                double most,
                const std::string& mend,
                solver::Violations* violations) {
  if (!(value >= 0.0) || value > most) {
    solver::AddFault({field,
                      solver::NumberText(value),
                      absl::StrCat("must be 0 to ", solver::NumberText(most)),
                      mend},
                     violations);
  }
}

absl::Status CheckRequest(const v1::StreamTrialPoseRequest& request) {
  solver::Violations faults;
  CheckRange("delay_s",
             request.delay_s(),
             kMostDelayS,
             "give the lag of the tracking, or leave it out to have it found",
             &faults);
  CheckRange("sample_rate_hz",
             request.sample_rate_hz(),
             kMostRateHz,
             "give poses a second, or 0 for every step",
             &faults);
  CheckRange("tracked_noise_m",
             request.tracked_noise_m(),
             kMostNoiseM,
             "give the deviation of a tracked position, or 0",
             &faults);
  CheckRange("tracked_noise_rad",
             request.tracked_noise_rad(),
             kMostNoiseRad,
             "give the deviation of a tracked angle, or 0",
             &faults);
  return faults.empty() ? absl::OkStatus() : InvalidRequest(faults);
}

absl::StatusOr<double> FindDelay(Library* library, const StudyRequest& study) {
  GAITSHELF_ASSIGN_OR_RETURN(const v1::TrialAnalysis analysis, StudyTrial(library, study));
  const v1::DelayEstimate& delay = analysis.delay();
  if (delay.outcome() == v1::DELAY_OUTCOME_UNSPECIFIED) {
    return 0.0;  // all logs are on one clock
  }
  if (delay.outcome() != v1::DELAY_OUTCOME_FOUND) {
    return absl::FailedPreconditionError(absl::StrCat(
        "by how much tracking comes late is not known: ", delay.reason(), "; give delay_s"));
  }
  if (delay.delay_s() < 0.0) {
    return absl::FailedPreconditionError(absl::StrCat("the tracking's clock is ",
                                                      -delay.delay_s(),
                                                      " s ahead of the controller's, which says "
                                                      "nothing of its lag; give delay_s"));
  }
  return delay.delay_s();
}

}  // namespace

absl::Status EstimatePose(Library* library,
                          const v1::StreamTrialPoseRequest& request,
                          const PoseBlockSink& sink) {
  GAITSHELF_RETURN_IF_ERROR(CheckRequest(request));
  const StudyRequest study = {.trial = request.name(), .options = request.options()};
  GAITSHELF_ASSIGN_OR_RETURN(const v1::Trial trial, GetTrialOfGait(library, study));
  double delay_s = request.delay_s();
  if (!request.has_delay_s()) {
    GAITSHELF_ASSIGN_OR_RETURN(delay_s, FindDelay(library, study));
  }
  GAITSHELF_ASSIGN_OR_RETURN(const PlannedGait planned, LoadPlan(library, trial.gait()));
  solver::TrialTable table(&trial);
  GAITSHELF_RETURN_IF_ERROR(ReadSamples(library, trial.name(), &table));
  solver::TrialPoseRequest estimate;
  estimate.table = &table;
  estimate.gait = &planned.gait;
  estimate.plan = &planned.cycle;
  estimate.delay_s = delay_s;
  estimate.sample_rate_hz = request.sample_rate_hz();
  if (request.tracked_noise_m() > 0.0) {
    estimate.noise.tracked_m = request.tracked_noise_m();
  }
  if (request.tracked_noise_rad() > 0.0) {
    estimate.noise.tracked_rad = request.tracked_noise_rad();
  }
  v1::TrialPoseBlock block;
  absl::Status sent;
  const auto send = [&] {
    block.set_delay_s(delay_s);
    sent = sink(block);
    block.Clear();
    return sent.ok();
  };
  estimate.on_pose = [&](double time_s, const solver::Pose& pose) {
    block.add_time_s(time_s);
    block.mutable_body_position_m()->Add(pose.data(), pose.data() + 3);
    block.mutable_body_attitude_rad()->Add(pose.data() + 3, pose.data() + 6);
    return block.time_s_size() < kMostBlockPoses || send();
  };
  GAITSHELF_RETURN_IF_ERROR(solver::EstimateTrialPose(estimate).status());
  if (sent.ok() && block.time_s_size() > 0) {
    send();
  }
  return sent;
}

}  // namespace gaitshelf::service
