// Where the body is now, for a control loop: tracking tells where it was a while ago, the legs and
// the gait's planned contacts what it did since.
//
// Two parts. At every step of the loop the legs are reckoned with (dead_reckoner.h). When a tracked
// pose comes in, it joins a window of the last few (pose_window.h), linked by what the legs told
// between their captures; the present is the newest of them moved by what the legs told since. A
// step allocates nothing and takes a bounded time. Not for several threads.
#ifndef GAITSHELF_SOLVER_POSE_POSE_ESTIMATOR_H_
#define GAITSHELF_SOLVER_POSE_POSE_ESTIMATOR_H_

#include <cstddef>
#include <cstdint>
#include <vector>

#include "absl/status/statusor.h"
#include "solver/measure/planned_cycle.h"
#include "solver/pose/dead_reckoner.h"
#include "solver/pose/pose.h"
#include "solver/pose/pose_window.h"

namespace gaitshelf::solver {

struct PoseSettings {
  // Steps of the control loop a second, Hz, above 0 up to 1e5; a greatest value.
  double step_rate_hz = 1000.0;
  // Tracked poses that come later than this after their capture are left out, s, above 0 up to 10.
  double greatest_delay_s = 0.25;
  // A tracked position further than this from where the body should be is left out, m: a marker
  // that was taken for another. After kMostImplausible of them in a row tracking is believed again.
  double greatest_jump_m = 0.005;
  PoseNoise noise{};
};

// What became of a tracked pose.
enum class TrackingVerdict {
  kTaken,
  kEmpty,        // neither x nor y is finite
  kTooOld,       // captured before what is remembered
  kOutOfOrder,   // captured no later than one that came before
  kNotYet,       // captured after the last step
  kImplausible,  // too far from where the body should be
};

class PoseEstimator {
 public:
  static constexpr int kMostImplausible = 5;

  // The plan must outlive the estimator.
  //
  // Errors:
  //   kInvalidArgument      a setting is not in its range
  //   kFailedPrecondition   the gait is a hop, the body is clamped, or it has more feet than count
  static absl::StatusOr<PoseEstimator> Create(const PlannedCycle* plan,
                                              const PoseSettings& settings);

  // Takes a step of the loop. Returns false, and leaves it out, when its time is not finite or not
  // later than that of the last.
  bool AddStep(const LegSample& sample);

  // Takes a tracked pose as it arrives. `capture_s` is when it was captured, on the controller's
  // clock: its own time less the delay. NaN where it is not tracked; x or y must be there.
  TrackingVerdict AddTracking(double capture_s, const Pose& tracked);

  // False until a tracked pose was taken; until then the present is in a frame of its own.
  bool is_tracked() const { return window_.size() > 0; }
  // The pose at the last step. Not before the first.
  Pose Present() const;
  // Tracked poses that were left out, those without x and y apart.
  std::int64_t left_out_count() const { return left_out_count_; }

 private:
  struct Reckoned {
    double time_s = 0.0;
    Pose pose = Pose::Zero();
  };

  PoseEstimator(const PlannedCycle* plan, const PoseSettings& settings);

  // Poses that were reckoned, from the oldest that is remembered, 0, on.
  const Reckoned& Remembered(std::size_t index) const;
  // Pose that was reckoned at a time between the first and the last that is remembered.
  Pose ReckonedAt(double time_s) const;
  TrackingVerdict Refuse(TrackingVerdict verdict);

  PoseSettings settings_;
  DeadReckoner reckoner_;
  PoseWindow window_;
  std::vector<Reckoned> ring_;
  std::size_t first_ = 0;
  std::size_t count_ = 0;
  double capture_s_ = 0.0;  // of the newest in the window
  Pose capture_reckoned_ = Pose::Zero();
  int implausible_in_a_row_ = 0;
  std::int64_t left_out_count_ = 0;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_POSE_POSE_ESTIMATOR_H_
