// The residual blocks of soft terms and limits.
#ifndef GAITSHELF_SOLVER_PLAN_SOFT_BLOCKS_H_
#define GAITSHELF_SOLVER_PLAN_SOFT_BLOCKS_H_

#include <ceres/problem.h>

#include "solver/plan/evaluation.h"
#include "solver/plan/penalty.h"
#include "solver/plan/problem.h"

namespace gaitshelf::solver {

// Soft terms and limits of the controls of knot k.
void AddControlBlock(const PlanEvaluation* evaluation,
                     const PenaltyState* state,
                     int k,
                     PlanUnknowns* unknowns,
                     ceres::Problem* ceres_problem);
// Soft terms and limits of the coordinates of knot k.
void AddPostureBlock(const PlanEvaluation* evaluation,
                     const PenaltyState* state,
                     int k,
                     PlanUnknowns* unknowns,
                     ceres::Problem* ceres_problem);
// Second differences at knot k.
void AddAccelerationBlock(const PlanEvaluation* evaluation,
                          const PenaltyState* state,
                          int k,
                          PlanUnknowns* unknowns,
                          ceres::Problem* ceres_problem);
// Alternating parts of the drives of knot k against their means over the cycle, which must have
// been derived.
void AddAlternationBlock(const PlanEvaluation* evaluation,
                         const PenaltyState* state,
                         int k,
                         PlanUnknowns* unknowns,
                         ceres::Problem* ceres_problem);
// Excess of the drives of knot k over the common bound.
void AddPeakBlock(const PlanEvaluation* evaluation,
                  const PenaltyState* state,
                  int k,
                  PlanUnknowns* unknowns,
                  ceres::Problem* ceres_problem);
// One row weight * (entry - target) on one entry of a parameter block of `size` entries.
void AddEntryBlock(double* parameters,
                   Eigen::Index size,
                   Eigen::Index entry,
                   double weight,
                   double target,
                   ceres::Problem* ceres_problem);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_PLAN_SOFT_BLOCKS_H_
