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

// Variant number under which shares of a task are planned: no checkpoint of theirs is taken for one
// of the order.
inline constexpr int kNearestVariant = 1000;

// The task with its displacement or rise times `share`, rounded to a hundredth of a millimetre.
v1::Task ScaleTask(const v1::Task& task, double share);

// The task in words, with units: "an advance of 9.00 mm per cycle".
std::string DescribeTask(const v1::Task& task);

// Halves the interval between nothing and the order's task four times, planning and auditing a
// share of the task each time in one attempt, and adds the largest that is good, to a sixteenth of
// the task, to the reason in the gait's report; the gait then has a new name. Where none is good,
// and when the gait is good itself, it stays as it is.
//
// Errors:
//   kCancelled   plan or audit were stopped
absl::Status FindNearestTask(const PlanRequest& request,
                             const AuditedPlanSteps& steps,
                             v1::Gait* gait);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_NEAREST_TASK_H_
