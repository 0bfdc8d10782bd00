// The pose estimator played over a trial: at each of the controller's steps it knows what had
// arrived by then, as it would have in the loop.
#ifndef GAITSHELF_SOLVER_POSE_TRIAL_POSE_H_
#define GAITSHELF_SOLVER_POSE_TRIAL_POSE_H_

#include <cstdint>
#include <functional>

#include "gaitshelf/v1/gait.pb.h"

#include "absl/status/statusor.h"
#include "solver/measure/planned_cycle.h"
#include "solver/measure/trial_table.h"
#include "solver/pose/pose_estimator.h"

namespace gaitshelf::solver {

struct TrialPoseRequest {
  const TrialTable* table = nullptr;
  const v1::Gait* gait = nullptr;
  const PlannedCycle* plan = nullptr;
  // By how much the tracking's times are behind the controller's, and so by how much later a pose
  // is known than it was, s, 0 to 10.
  double delay_s = 0.0;
  PoseNoise noise{};
  // Poses a second that are handed out, Hz; 0 means every step.
  double sample_rate_hz = 0.0;
  // Takes each pose; false ends the estimate early. Steps before the first tracked pose have none.
  std::function<bool(double time_s, const Pose& pose)> on_pose{};
};

struct TrialPoseReport {
  std::int64_t pose_count = 0;      // handed out
  std::int64_t tracked_count = 0;   // tracked poses that were taken
  std::int64_t left_out_count = 0;  // that were left out as too late or implausible
};

// Plays the estimator over the steps at which the controller logged its phase.
//
// Errors:
//   kInvalidArgument      delay, rate or noise is not in its range
//   kFailedPrecondition   the trial has no phase on the controller's clock, or neither x nor y of
//                         the body; or the gait is a hop or its body clamped
absl::StatusOr<TrialPoseReport> EstimateTrialPose(const TrialPoseRequest& request);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_POSE_TRIAL_POSE_H_
