// Duty factor, phases and slip of each foot.
#ifndef GAITSHELF_SOLVER_MEASURE_FOOT_FIGURES_H_
#define GAITSHELF_SOLVER_MEASURE_FOOT_FIGURES_H_

#include <vector>

#include "solver/measure/body_figures.h"
#include "solver/measure/stances.h"
#include "solver/measure/trial_view.h"

namespace gaitshelf::solver {

// Returns for each foot the index of the next foot behind on the same side of the body, by the
// standing posture; -1 for the rearmost and for feet of the body.
std::vector<int> FeetBehind(const PlannedCycle& plan);

// Fills the feet, in the robot's order. Limb phase and duty factor are those of M. Hildebrand,
// "Symmetrical gaits of horses", Science 150 (1965) 701-708. Where contact was not measured, slip
// is that between the plan's touchdown and lift-off.
void AddFootFigures(const TrialView& view,
                    const Cycles& cycles,
                    const std::vector<Stances>& feet,
                    const BodyFigures& body,
                    v1::TrialAnalysis* analysis);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MEASURE_FOOT_FIGURES_H_
