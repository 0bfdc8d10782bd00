// How noisy what a fit leaves over is, and how sure an estimate can be for it.
#ifndef GAITSHELF_SOLVER_CALIBRATE_NOISE_H_
#define GAITSHELF_SOLVER_CALIBRATE_NOISE_H_

#include <cstddef>

#include "absl/types/span.h"

namespace gaitshelf::solver {

struct Noise {
  double deviation = 0.0;  // root mean square
  // How many values in a row say the same: the variance of a mean is this times that of as many
  // independent values. 1 for white noise.
  double run_length = 1.0;
  std::size_t count = 0;

  // Standard deviation to weigh each value with, so that sums over all come out right.
  double WeighingDeviation() const;
};

// Measures residuals in the order in which they were sampled; values that are not finite do not
// count. The run length is 1 + 2 * (sum of the autocorrelation up to where it drowns in its own
// scatter, 2 / sqrt(n)).
Noise MeasureNoise(absl::Span<const double> residuals);

// Returns the 97.5 % point of Student's t distribution: half the width of a 95 % interval over the
// standard uncertainty. 1.960 for infinitely many degrees of freedom.
double StudentHalfWidth(double degrees_of_freedom);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_CALIBRATE_NOISE_H_
