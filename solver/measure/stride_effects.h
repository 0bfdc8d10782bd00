// What differs between a trial and the plan, and what each difference did to the stride.
//
// While feet stand, the body moves by what legs sweep backwards under it and by what feet slide;
// with several feet down by the mean of them. So a stride is the sum over the phases of
//   share of a standing foot * (-sweep of its leg + slide of the foot),
// the share being 1 over the number of feet that stand. The difference of two such sums is split
// into legs that sweep otherwise, feet that stand at other times, and feet that slide. What is left
// is unexplained: flight, bodies that pitch and turn, sensors. Own derivation.
#ifndef GAITSHELF_SOLVER_MEASURE_STRIDE_EFFECTS_H_
#define GAITSHELF_SOLVER_MEASURE_STRIDE_EFFECTS_H_

#include <vector>

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/trial_analysis.pb.h"

#include "solver/measure/planned_cycle.h"

namespace gaitshelf::solver {

// Returns the differences with an effect on the stride, the greatest first. Legs and contacts that
// were not measured are taken as planned. Empty without a mean cycle whose phase is the plan's.
std::vector<v1::TrialDifference> FindStrideEffects(const v1::TrialAnalysis& analysis,
                                                   const v1::Gait& gait,
                                                   const PlannedCycle& plan);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MEASURE_STRIDE_EFFECTS_H_
