// The residual blocks that hand a plan to Ceres.
//
// Every block reads the shared evaluation, which the evaluation callback has brought up to date,
// and only scales and copies. Controls appear in rows of their own knot only, so that a Schur
// complement eliminates them knot by knot.
#ifndef GAITSHELF_SOLVER_PLAN_BLOCKS_H_
#define GAITSHELF_SOLVER_PLAN_BLOCKS_H_

#include <ceres/problem.h>

#include "solver/plan/evaluation.h"
#include "solver/plan/penalty.h"
#include "solver/plan/problem.h"

namespace gaitshelf::solver {

// Add the laws, equations of motion and contact, and all else: costs, and the limits of drives and
// travel. All arguments must outlive the Ceres problem.
void AddLawBlocks(const PlanEvaluation* evaluation,
                  const PenaltyState* state,
                  PlanUnknowns* unknowns,
                  ceres::Problem* ceres_problem);
void AddSoftBlocks(const PlanEvaluation* evaluation,
                   const PenaltyState* state,
                   PlanUnknowns* unknowns,
                   ceres::Problem* ceres_problem);

// Adds every row of the problem and the unknowns' parameter blocks. All arguments must outlive the
// Ceres problem.
void AddPlanBlocks(const PlanEvaluation* evaluation,
                   const PenaltyState* state,
                   PlanUnknowns* unknowns,
                   ceres::Problem* ceres_problem);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_PLAN_BLOCKS_H_
