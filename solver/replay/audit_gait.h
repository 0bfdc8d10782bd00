// The audit's face: replays a gait independently of the planner and says whether it may be served.
#ifndef GAITSHELF_SOLVER_REPLAY_AUDIT_GAIT_H_
#define GAITSHELF_SOLVER_REPLAY_AUDIT_GAIT_H_

#include <atomic>
#include <optional>
#include <string>
#include <vector>

#include "gaitshelf/v1/audit.pb.h"
#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/leg_table.pb.h"
#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "absl/status/statusor.h"
#include "solver/robot/transition.h"

namespace gaitshelf::solver {

struct AuditRequest {
  v1::Robot robot;
  v1::Surface surface;
  v1::Gait gait;
  // What the robot's legs were compiled to; compiled anew when absent.
  const v1::LegTables* leg_tables = nullptr;
  // The further surfaces of the gait, in any order.
  std::vector<v1::Surface> also_on{};
  // What a transition joins.
  std::optional<TransitionGaits> joined{};
  const std::atomic<bool>* stop = nullptr;  // checked at least every 100 ms
};

// Audits a gait: residuals at its knots, then a forward simulation under the leg controller. Where
// all legs are linkages it runs on every link and flexure of them, and once more on the compiled
// legs, to see how far these are to be trusted.
//
// A transition is replayed after cycles of the gait that it starts from and before cycles of the
// one that it leads into, which must then go as they do by themselves.
//
// A gait of several surfaces is replayed on each of them, and is as good as on the worst. Where its
// plan sticks, the audit computes for each that it obeys the laws there, too; a plan that slides
// does not, and only its replay counts.
//
// Errors:
//   kInvalidArgument   gait, robot and surfaces do not belong together, or the gait's arrays have
//                      wrong sizes
//   kCancelled         the stop flag was raised
absl::StatusOr<v1::Audit> AuditGait(const AuditRequest& request);

// Returns the reason why a replay on the whole mechanism does not bear out the one on the compiled
// legs, a sentence; empty when it does, or when there is no mechanism.
std::string CompiledLegsFault(const v1::ReplayReport& replay);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_AUDIT_GAIT_H_
