// The residual blocks of the laws: equations of motion and contact.
#ifndef GAITSHELF_SOLVER_PLAN_LAW_BLOCKS_H_
#define GAITSHELF_SOLVER_PLAN_LAW_BLOCKS_H_

#include <ceres/problem.h>

#include "solver/plan/evaluation.h"
#include "solver/plan/penalty.h"
#include "solver/plan/problem.h"

namespace gaitshelf::solver {

// Add one block for knot k.
void AddDynamicsBlock(const PlanEvaluation* evaluation,
                      const PenaltyState* state,
                      int k,
                      PlanUnknowns* unknowns,
                      ceres::Problem* ceres_problem);
void AddContactBlock(const PlanEvaluation* evaluation,
                     const PenaltyState* state,
                     int k,
                     PlanUnknowns* unknowns,
                     ceres::Problem* ceres_problem);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_PLAN_LAW_BLOCKS_H_
