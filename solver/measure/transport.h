// Peak voltage and cost of transport of a trial.
#ifndef GAITSHELF_SOLVER_MEASURE_TRANSPORT_H_
#define GAITSHELF_SOLVER_MEASURE_TRANSPORT_H_

#include "solver/measure/trial_view.h"

namespace gaitshelf::solver {

// Fills the greatest voltage of the whole record and the cost of transport over the cycles that
// count. The power is what was logged; else voltage times current, when every drive has both; else
// what charging the described capacitances takes, when every voltage was logged.
void AddTransport(const TrialView& view, const Cycles& cycles, v1::TrialAnalysis* analysis);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MEASURE_TRANSPORT_H_
