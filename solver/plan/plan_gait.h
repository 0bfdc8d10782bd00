// The planner's face: from a robot, a surface and an order to a gait.
#ifndef GAITSHELF_SOLVER_PLAN_PLAN_GAIT_H_
#define GAITSHELF_SOLVER_PLAN_PLAN_GAIT_H_

#include <atomic>
#include <functional>
#include <optional>
#include <vector>

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/job.pb.h"
#include "gaitshelf/v1/leg_table.pb.h"
#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"
#include "gaitshelf/v1/task.pb.h"

#include "absl/status/statusor.h"
#include "solver/robot/transition.h"

namespace gaitshelf::solver {

struct PlanRequest {
  v1::Robot robot;
  v1::Surface surface;
  v1::GaitOrder order;
  std::optional<v1::PlanCheckpoint> checkpoint{};  // goes on from here
  // What the robot's legs were compiled to; compiled anew when absent.
  const v1::LegTables* leg_tables = nullptr;
  // Share of the legs' reach that a maximal advance asks for, more than 0 and at most 1.
  double reach_ratio = 1.0;
  // More than 0 asks for a steady gait, for slow strides: standing feet keep some load and slide
  // less, so that the body does not tip from two feet to two. It is the share of the cycle that a
  // foot stands. Less than a walk's three quarters leaves longer strides within reach.
  double steady_duty = 0.0;
  // Attempts of the retry ladder at most; 0 means all.
  int most_attempts = 0;
  // Further surfaces of the order, in its order, none of less friction than `surface`. Feet that
  // stick within the cone of the least friction move alike on all of them, force for force.
  std::vector<v1::Surface> also_on{};
  // With further surfaces: lets loaded feet slide where they must. The plan then leans on the
  // friction of `surface`, and only replays tell what it does on the others.
  bool may_slide = false;
  // What a transition joins.
  std::optional<TransitionGaits> joined{};
};

// How the caller follows and stops a solve. All members may be absent. The callbacks run on the
// solving thread.
struct PlanControl {
  // Checked at least every 100 ms.
  const std::atomic<bool>* stop = nullptr;
  // Called after every solver iteration.
  std::function<void(const v1::PlanProgress&)> on_progress;
  // Called after every round, a fraction of a second to a few seconds apart.
  std::function<void(const v1::PlanCheckpoint&)> on_checkpoint;
};

// Plans a gait. The gait's report says how the solve ended: a task that cannot be met is an answer,
// not an error. The gait has its digests and its name, but no audit and no provenance. The same
// request gives the same gait.
//
// Errors:
//   kInvalidArgument   robot, surfaces or order break a rule; the message lists every fault
//   kCancelled         the stop flag was raised
absl::StatusOr<v1::Gait> PlanGait(const PlanRequest& request, const PlanControl& control);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_PLAN_PLAN_GAIT_H_
