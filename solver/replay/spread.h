// The spread of a gait: replays on robots and surfaces drawn from the stated uncertainties.
#ifndef GAITSHELF_SOLVER_REPLAY_SPREAD_H_
#define GAITSHELF_SOLVER_REPLAY_SPREAD_H_

#include <atomic>
#include <functional>
#include <vector>

#include "gaitshelf/v1/audit.pb.h"
#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "absl/status/statusor.h"
#include "solver/replay/limits.h"

namespace gaitshelf::solver {

struct SpreadRequest {
  v1::Robot robot;
  v1::Surface surface;
  v1::Gait gait;
  int replay_count = 16;
  int cycle_count = ReplaySettings::kCycleCount;  // of each replay of a periodic gait, at least 2
  int rng = 0;                                    // fixes every draw
  int thread_count = 1;                           // does not change the result
  const std::atomic<bool>* stop = nullptr;        // checked at least every 100 ms
  // Called after every replay, from any of the threads. May be absent.
  std::function<void()> on_replay{};
};

// What one replay of a spread gave.
struct DrawnReplay {
  double stride_m = 0.0;  // 0 when it fell
  bool has_fallen = false;
};

// Returns the figures of replays whose plan goes in the direction of the sign.
v1::Spread SummarizeSpread(const std::vector<DrawnReplay>& replays, double direction);

// Replays the gait on drawn robots and surfaces. With no uncertainty every replay is the audit's.
//
// Errors:
//   kInvalidArgument   the gait's arrays do not fit the robot, or replay_count is below 1
//   kCancelled         the stop flag was raised
absl::StatusOr<v1::Spread> ComputeSpread(const SpreadRequest& request);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_SPREAD_H_
