// Says what in residuals and replay speaks against a gait.
#ifndef GAITSHELF_SOLVER_REPLAY_JUDGE_REPLAY_H_
#define GAITSHELF_SOLVER_REPLAY_JUDGE_REPLAY_H_

#include "gaitshelf/v1/audit.pb.h"
#include "gaitshelf/v1/gait.pb.h"

#include "solver/leg/robot_model.h"
#include "solver/robot/transition.h"

namespace gaitshelf::solver {

// Add reasons to the audit, a sentence each with the figure and the limit; none when all is well.

void JudgeResiduals(const v1::PlanResiduals& residuals, v1::Audit* audit);

// A replay that ran to its end, against the gait's plan.
void JudgeReplay(const RobotModel& model,
                 const v1::Gait& gait,
                 const v1::ReplayReport& replay,
                 v1::Audit* audit);

// The replay of a transition: whether its second gait goes as it does by itself, and what the feet
// slide on the way.
void JudgeTransition(const RobotModel& model,
                     const v1::Transition& transition,
                     const TransitionGaits& gaits,
                     const v1::ReplayReport& replay,
                     v1::Audit* audit);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_JUDGE_REPLAY_H_
