// Finds the cycles of a gait in a trial.
#ifndef GAITSHELF_SOLVER_MEASURE_FIND_CYCLES_H_
#define GAITSHELF_SOLVER_MEASURE_FIND_CYCLES_H_

#include <vector>

#include "solver/measure/stances.h"
#include "solver/measure/trial_view.h"

namespace gaitshelf::solver {

// Returns the cycles that count, from the best source there is: the logged phase, touchdowns of a
// foot, motion of a leg at the commanded frequency, or the body's record cut at that frequency. A
// cycle that is longer or shorter than the commanded one by more than a quarter does not count; of
// the others the first left_out_count are left out.
Cycles FindCycles(const TrialView& view, const std::vector<Stances>& feet, int left_out_count);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MEASURE_FIND_CYCLES_H_
