// A trial beside the plan, the replay and the hand-tuned gait of the same order.
#ifndef GAITSHELF_SOLVER_MEASURE_COMPARE_TRIAL_H_
#define GAITSHELF_SOLVER_MEASURE_COMPARE_TRIAL_H_

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/trial_analysis.pb.h"

#include "solver/measure/planned_cycle.h"

namespace gaitshelf::solver {

// Returns the figures of all sides, as far as they are known, and what differs from the plan.
v1::TrialComparison CompareTrial(const v1::TrialAnalysis& analysis,
                                 const v1::Gait& gait,
                                 const PlannedCycle& plan);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MEASURE_COMPARE_TRIAL_H_
