// The rival of an optimised gait: the best of a grid of parametric gaits, as a person would find it
// by trying on the robot. Here a replay takes the robot's place.
#ifndef GAITSHELF_SOLVER_REPLAY_HAND_TUNED_H_
#define GAITSHELF_SOLVER_REPLAY_HAND_TUNED_H_

#include <atomic>
#include <functional>
#include <vector>

#include "gaitshelf/v1/audit.pb.h"
#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/leg_table.pb.h"
#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"
#include "gaitshelf/v1/task.pb.h"

#include "absl/status/statusor.h"

namespace gaitshelf::solver {

// One gait of the grid, as shares of what the planner's own first guess has.
struct HandTuning {
  double asked_ratio = 1.0;      // displacement per cycle over the order's
  double duty_ratio = 1.0;       // share of the cycle that a foot stands
  double clearance_ratio = 1.0;  // height of a swinging foot
  double height_ratio = 1.0;     // height of the body
};

// The grid that is searched for one displacement.
std::vector<HandTuning> HandTuningGrid(double asked_ratio);

struct HandTunedRequest {
  v1::Robot robot;
  v1::Surface surface;
  v1::GaitOrder order;  // an advance
  // What the robot's legs were compiled to; compiled anew when absent.
  const v1::LegTables* leg_tables = nullptr;
  int thread_count = 1;                     // does not change the result
  const std::atomic<bool>* stop = nullptr;  // checked at least every 100 ms
  // Called after every replay, from any of the threads. May be absent.
  std::function<void()> on_replay{};
};

// Returns the parametric gait of a tuning: level body at constant speed, feet on straight paths and
// the voltage that this motion needs by inverse dynamics. It has no name and no audit.
//
// Errors:
//   kInvalidArgument   no robot, or an order that is not an advance
absl::StatusOr<v1::Gait> MakeHandTunedGait(const HandTunedRequest& request,
                                           const HandTuning& tuning);

// Replays gaits of the grid under the leg controller and returns the one that goes farthest per
// cycle in the order's direction. All of them ask for what the order asks; only where none is
// accepted, shorter strides are tried: eight tenths, then six. At most 24 replays.
//
// A gait is accepted when it does not fall, no foot slides under load in a cycle by more than half
// the replayed displacement, and its feet do not chatter so that the contact forces take several
// times the usual work.
//
// Errors:
//   kInvalidArgument   an order that is not an advance
//   kCancelled         the stop flag was raised
absl::StatusOr<v1::HandTuned> FindHandTuned(const HandTunedRequest& request);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_HAND_TUNED_H_
