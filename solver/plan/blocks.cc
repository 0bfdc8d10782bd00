#include "solver/plan/blocks.h"

#include "solver/plan/law_blocks.h"
#include "solver/plan/soft_blocks.h"

namespace gaitshelf::solver {

void AddLawBlocks(const PlanEvaluation* evaluation,
                  const PenaltyState* state,
                  PlanUnknowns* unknowns,
                  ceres::Problem* ceres_problem) {
  const PlanProblem& problem = evaluation->problem();
  for (int k = problem.first_free_knot(); k < problem.end_free_knot(); ++k) {
    AddDynamicsBlock(evaluation, state, k, unknowns, ceres_problem);
    if (problem.foot_count() > 0) {
      AddContactBlock(evaluation, state, k, unknowns, ceres_problem);
    }
  }
}

void AddSoftBlocks(const PlanEvaluation* evaluation,
                   const PenaltyState* state,
                   PlanUnknowns* unknowns,
                   ceres::Problem* ceres_problem) {
  const PlanProblem& problem = evaluation->problem();
  for (int k = problem.first_free_knot(); k < problem.end_free_knot(); ++k) {
    AddControlBlock(evaluation, state, k, unknowns, ceres_problem);
    if (problem.weights.acceleration > 0.0) {
      AddAccelerationBlock(evaluation, state, k, unknowns, ceres_problem);
    }
    if (problem.weights.alternation > 0.0) {
      AddAlternationBlock(evaluation, state, k, unknowns, ceres_problem);
    }
    if (problem.weights.peak_drive > 0.0) {
      AddPeakBlock(evaluation, state, k, unknowns, ceres_problem);
    }
  }
  for (int k = 0; k < problem.knot_count; ++k) {
    if (!problem.is_fixed_knot(k)) {
      AddPostureBlock(evaluation, state, k, unknowns, ceres_problem);
    }
  }
  if (problem.is_periodic) {
    AddEntryBlock(
        &unknowns->stride, 1, 0, problem.weights.stride, problem.stride_target, ceres_problem);
  }
  if (problem.weights.peak_drive > 0.0) {
    AddEntryBlock(&unknowns->peak_drive, 1, 0, problem.weights.peak_drive, 0.0, ceres_problem);
  }
  if (problem.apex.has_value()) {
    constexpr Eigen::Index kHeightEntry = 2;
    AddEntryBlock(unknowns->coordinates.col(problem.apex->knot).data(),
                  problem.coordinate_count(),
                  kHeightEntry,
                  problem.weights.apex,
                  problem.apex->height,
                  ceres_problem);
  }
}

void AddPlanBlocks(const PlanEvaluation* evaluation,
                   const PenaltyState* state,
                   PlanUnknowns* unknowns,
                   ceres::Problem* ceres_problem) {
  AddLawBlocks(evaluation, state, unknowns, ceres_problem);
  AddSoftBlocks(evaluation, state, unknowns, ceres_problem);
  const PlanProblem& problem = evaluation->problem();
  for (int k = 0; k < problem.knot_count; ++k) {
    if (problem.is_fixed_knot(k)) {
      ceres_problem->SetParameterBlockConstant(unknowns->coordinates.col(k).data());
    }
  }
}

}  // namespace gaitshelf::solver
