// Writes and reads the iterate of an unfinished solve.
#ifndef GAITSHELF_SOLVER_PLAN_CHECKPOINT_H_
#define GAITSHELF_SOLVER_PLAN_CHECKPOINT_H_

#include "gaitshelf/v1/job.pb.h"

#include "solver/plan/blocks.h"
#include "solver/plan/problem.h"
#include "solver/plan/rounds.h"

namespace gaitshelf::solver {

// Returns unknowns, multipliers and schedule state; rung, stage and time are left to the caller.
v1::PlanCheckpoint MakeCheckpoint(const PlanProblem& problem,
                                  const PlanUnknowns& unknowns,
                                  const PenaltyState& penalty,
                                  const RoundState& state);

// Puts a checkpoint into the unknowns, penalty and state of the problem it was made from. Returns
// false, and changes nothing, when its layout or sizes do not fit: then the solve starts afresh.
bool RestoreCheckpoint(const v1::PlanCheckpoint& checkpoint,
                       const PlanProblem& problem,
                       PlanUnknowns* unknowns,
                       PenaltyState* penalty,
                       RoundState* state);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_PLAN_CHECKPOINT_H_
