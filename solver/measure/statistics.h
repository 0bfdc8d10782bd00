// Means and spreads of figures that were measured once in each cycle, and of phases.
#ifndef GAITSHELF_SOLVER_MEASURE_STATISTICS_H_
#define GAITSHELF_SOLVER_MEASURE_STATISTICS_H_

#include "gaitshelf/v1/trial_analysis.pb.h"

#include "absl/types/span.h"

namespace gaitshelf::solver {

// Returns mean, standard deviation (n - 1), count and standard uncertainty of the mean of those
// values that are finite. All 0 when there are none.
v1::MeasuredFigure Summarize(absl::Span<const double> values);

// Returns the mean direction of phases in cycles, by the mean of unit vectors; values that are not
// finite do not count. K. V. Mardia, P. E. Jupp, "Directional Statistics", Wiley 2000, section 2.2
// and 2.3 (from memory): deviation sqrt(-2 ln R).
v1::CircularFigure SummarizePhases(absl::Span<const double> phases_ratio);

// Brings a phase to 0 (included) to 1 (left out).
double WrapPhase(double phase_ratio);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MEASURE_STATISTICS_H_
