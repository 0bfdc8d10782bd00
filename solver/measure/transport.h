// Peak voltage and cost of transport of a trial.
#ifndef GAITSHELF_SOLVER_MEASURE_TRANSPORT_H_
#define GAITSHELF_SOLVER_MEASURE_TRANSPORT_H_

#include <optional>

#include "gaitshelf/v1/gait.pb.h"

#include "solver/measure/planned_cycle.h"
#include "solver/measure/trial_view.h"

namespace gaitshelf::solver {

// Fills the greatest voltage of the whole record and the cost of transport over the cycles that
// count. The power is what was logged; else voltage times current, when every drive has both; else
// what charging the described capacitances takes, when every voltage was logged.
void AddTransport(const TrialView& view, const Cycles& cycles, v1::TrialAnalysis* analysis);

// Returns the cost of transport of a gait as planned, with the power that charging the described
// capacitances to the planned voltages takes (POWER_KIND_CHARGING), without what the leg controller
// adds. Nothing where a drive's capacitance is not described or the gait goes nowhere.
std::optional<double> PlannedChargingCost(const v1::Gait& gait, const PlannedCycle& plan);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MEASURE_TRANSPORT_H_
