// Fits what a gait did to replays of it on robots that are not quite as described.
#ifndef GAITSHELF_SOLVER_CALIBRATE_GAIT_FIT_H_
#define GAITSHELF_SOLVER_CALIBRATE_GAIT_FIT_H_

#include <atomic>
#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "gaitshelf/v1/gait.pb.h"

#include "absl/status/statusor.h"
#include "solver/calibrate/gait_unknowns.h"
#include "solver/measure/trial_table.h"

namespace gaitshelf::solver {

struct GaitTrial {
  const TrialTable* table = nullptr;
  const v1::Gait* gait = nullptr;  // that was played, at the frequency it was planned for
};

struct GaitFitRequest {
  const GaitUnknowns* unknowns = nullptr;
  std::vector<GaitTrial> trials;
  int thread_count = 1;
  const std::atomic<bool>* stop = nullptr;          // checked at every step of a replay
  std::function<void(double ratio)> on_progress{};  // from the calling thread; may be absent
};

// What is left over of one channel of a trial.
struct GaitChannelFit {
  std::string trial;
  std::string channel;
  std::string unit;
  std::int64_t cycle_count = 0;
  double residual_si = 0.0;  // root mean square over the channel's marks, measured less fitted
  double signal_si = 0.0;    // root mean square of the marks themselves
};

struct GaitFit {
  Eigen::VectorXd estimate;    // logarithms, as GaitUnknowns orders them
  Eigen::MatrixXd covariance;  // of it, grown by birge_ratio
  // What is left over against what noise and the roughness of replays let expect, at least 1.
  double birge_ratio = 1.0;
  double degrees_of_freedom = 0.0;
  std::vector<GaitChannelFit> channels;
  int replay_count = 0;
  int fallen_count = 0;  // of them; they did not count
};

// Replays each gait on robots and surfaces drawn about the best that is known, lays a plane through
// their marks (gait_marks.h), solves that for the trial's marks with the unknowns' priors, and
// draws again, closer: contact makes single replays rough, and the plane's own residuals say how
// rough, which goes into the covariance. The same request gives the same fit.
//
// Errors:
//   kInvalidArgument     a trial is not one that tells (gait_marks.h), or was played at another
//                        frequency; names it
//   kFailedPrecondition  most of the robots that were drawn fall
//   kCancelled           the stop flag was raised
absl::StatusOr<GaitFit> FitGaits(const GaitFitRequest& request);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_CALIBRATE_GAIT_FIT_H_
