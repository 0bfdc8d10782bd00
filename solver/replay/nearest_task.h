// Where a task cannot be met: the nearest of its kind that can.
#ifndef GAITSHELF_SOLVER_REPLAY_NEAREST_TASK_H_
#define GAITSHELF_SOLVER_REPLAY_NEAREST_TASK_H_

#include <string>

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/task.pb.h"

#include "absl/status/status.h"
#include "solver/plan/plan_gait.h"
#include "solver/replay/audited_plan.h"

namespace gaitshelf::solver {

// The task with all its displacements and angles times `share`, rounded to a hundredth of a
// millimetre and a tenth of a milliradian.
v1::Task ScaleTask(const v1::Task& task, double share);

// The task in words, with units: "an advance of 9 mm per cycle".
std::string DescribeTask(const v1::Task& task);

// Number of the variant under which shares of a task are planned, so that no checkpoint of theirs
// is taken for one of the order.
inline constexpr int kNearestVariant = 1000;

// Halves the interval between nothing and the order's task a few times, planning and auditing a
// share of the task each time in one attempt, and writes the largest that is good into the gait's
// report, if there is one; the reason then tells of it, and the gait has a new name. A gait that is
// good, a maximal advance and a transition stay as they are.
//
// Errors:
//   kCancelled   plan or audit were stopped
absl::Status FindNearestTask(const PlanRequest& request,
                             const AuditedPlanSteps& steps,
                             v1::Gait* gait);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_NEAREST_TASK_H_
