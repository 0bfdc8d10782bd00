// How well the legs followed the plan.
#ifndef GAITSHELF_SOLVER_MEASURE_LEG_FIGURES_H_
#define GAITSHELF_SOLVER_MEASURE_LEG_FIGURES_H_

#include "solver/measure/trial_view.h"

namespace gaitshelf::solver {

// Fills the legs, in the robot's order: every sample within a cycle that counts against the plan at
// the same phase. A coordinate without samples, or cycles whose phase is not known, give none.
void AddLegFigures(const TrialView& view, const Cycles& cycles, v1::TrialAnalysis* analysis);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MEASURE_LEG_FIGURES_H_
