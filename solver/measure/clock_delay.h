// The delay of a trial's tracking clock, from what was measured on both clocks.
#ifndef GAITSHELF_SOLVER_MEASURE_CLOCK_DELAY_H_
#define GAITSHELF_SOLVER_MEASURE_CLOCK_DELAY_H_

#include "gaitshelf/v1/trial_analysis.pb.h"

#include "solver/measure/trial_table.h"

namespace gaitshelf::solver {

// Compares quantities that both clocks have, and a leg with its tracked foot in the frame of the
// tracked body, and returns the estimate with the least uncertainty. Of a long record the first
// stretch counts, where robots start, and when that is ambiguous the last, where they stop. Where
// nothing is on both clocks or only one clock is there, the outcome says so.
v1::DelayEstimate EstimateClockDelay(const TrialTable& table, double greatest_delay_s);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MEASURE_CLOCK_DELAY_H_
