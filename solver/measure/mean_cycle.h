// The mean cycle of a trial.
#ifndef GAITSHELF_SOLVER_MEASURE_MEAN_CYCLE_H_
#define GAITSHELF_SOLVER_MEASURE_MEAN_CYCLE_H_

#include <vector>

#include "solver/measure/body_figures.h"
#include "solver/measure/stances.h"
#include "solver/measure/trial_view.h"

namespace gaitshelf::solver {

// Phases at which the mean is taken.
inline constexpr int kMeanCyclePhases = 64;

// Fills the mean over all cycles that count.
void AddMeanCycle(const TrialView& view,
                  const Cycles& cycles,
                  const std::vector<Stances>& feet,
                  const BodyFigures& body,
                  v1::TrialAnalysis* analysis);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MEASURE_MEAN_CYCLE_H_
