#include "solver/calibrate/noise.h"

#include <algorithm>
#include <cmath>
#include <vector>

namespace gaitshelf::solver {

double Noise::WeighingDeviation() const { return deviation * std::sqrt(run_length); }

Noise MeasureNoise(absl::Span<const double> residuals) {
  std::vector<double> values;
  for (const double residual : residuals) {
    if (std::isfinite(residual)) {
      values.push_back(residual);
    }
  }
  Noise noise;
  noise.count = values.size();
  if (values.empty()) {
    return noise;
  }
  const auto count = static_cast<double>(values.size());
  double squares = 0.0;
  for (const double value : values) {
    squares += value * value;
  }
  noise.deviation = std::sqrt(squares / count);
  if (squares == 0.0) {
    return noise;
  }
  const double scatter = 2.0 / std::sqrt(count);
  for (std::size_t lag = 1; lag < values.size() / 4; ++lag) {
    double product = 0.0;
    for (std::size_t i = lag; i < values.size(); ++i) {
      product += values[i] * values[i - lag];
    }
    const double correlation = product / squares;
    if (correlation < scatter) {
      break;
    }
    noise.run_length += 2.0 * correlation;
  }
  return noise;
}

// Cornish-Fisher expansion about the normal distribution, M. Abramowitz, I. A. Stegun, "Handbook of
// Mathematical Functions" (1964), 26.7.5 (from memory); good to 1 % from three degrees on. Below
// that the known points.
double StudentHalfWidth(double degrees_of_freedom) {
  const double z = 1.959963985;
  if (degrees_of_freedom < 1.5) {
    return 12.7062;
  }
  if (degrees_of_freedom < 2.5) {
    return 4.3027;
  }
  const double n = degrees_of_freedom;
  const double z2 = z * z;
  const double first = z * (z2 + 1.0) / 4.0;
  const double second = z * (5.0 * z2 * z2 + 16.0 * z2 + 3.0) / 96.0;
  const double third = z * (3.0 * z2 * z2 * z2 + 19.0 * z2 * z2 + 17.0 * z2 - 15.0) / 384.0;
  return z + first / n + second / (n * n) + third / (n * n * n);
}

}  // namespace gaitshelf::solver
