// The delay of one signal behind another: peak of the correlation coefficient, refined by a
// parabola through three points (the generalised correlation of C. H. Knapp, G. C. Carter, "The
// generalized correlation method for estimation of time delay", IEEE Trans. ASSP 24 (1976)
// 320-327, without weights).
#ifndef GAITSHELF_SOLVER_MEASURE_DELAY_H_
#define GAITSHELF_SOLVER_MEASURE_DELAY_H_

#include "gaitshelf/v1/trial_analysis.pb.h"

#include "absl/types/span.h"

namespace gaitshelf::solver {

struct DelayRequest {
  // Both evenly sampled, of the same length and without missing values.
  absl::Span<const double> reference;
  absl::Span<const double> delayed;
  double sample_period_s = 0.0;
  // It is known that the delay is 0 to this, s; 0 means that nothing is known. Then it is looked
  // for within a quarter of the record to both sides, at most 1 s.
  double greatest_delay_s = 0.0;
};

// Returns the delay with its uncertainty. It is refused as ambiguous when another peak of the
// correlation, within what is looked at, is nearly as high as the best: for a pure tone or a steady
// gait every whole period more is as good. It is not found when the signals do not agree at any
// delay.
//
// The uncertainty is that of a least-squares fit of the delayed signal by the shifted reference:
// curvature of the peak against the noise that is left, with the noise taken as correlated over
// some samples.
v1::DelayEstimate EstimateDelay(const DelayRequest& request);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MEASURE_DELAY_H_
