#include "solver/measure/statistics.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <limits>
#include <numbers>

namespace gaitshelf::solver {

v1::MeasuredFigure Summarize(absl::Span<const double> values) {
  v1::MeasuredFigure figure;
  double sum = 0.0;
  int count = 0;
  for (const double value : values) {
    if (std::isfinite(value)) {
      sum += value;
      ++count;
    }
  }
  if (count == 0) {
    return figure;
  }
  const double mean = sum / count;
  double squares = 0.0;
  for (const double value : values) {
    if (std::isfinite(value)) {
      squares += (value - mean) * (value - mean);
    }
  }
  figure.set_mean_si(mean);
  figure.set_count(count);
  if (count > 1) {
    figure.set_deviation_si(std::sqrt(squares / (count - 1)));
    figure.set_uncertainty_si(figure.deviation_si() / std::sqrt(count));
  }
  return figure;
}

v1::CircularFigure SummarizePhases(absl::Span<const double> phases_ratio) {
  v1::CircularFigure figure;
  std::complex<double> sum = 0.0;
  int count = 0;
  for (const double phase : phases_ratio) {
    if (std::isfinite(phase)) {
      sum += std::polar(1.0, 2.0 * std::numbers::pi * phase);
      ++count;
    }
  }
  if (count == 0) {
    return figure;
  }
  // Rounding may lift the resultant above 1.
  const double resultant = std::min(1.0, std::abs(sum) / count);
  figure.set_mean_ratio(WrapPhase(std::arg(sum) / (2.0 * std::numbers::pi)));
  figure.set_resultant_ratio(resultant);
  figure.set_deviation_ratio(resultant > 0.0
                                 ? std::sqrt(std::max(0.0, -2.0 * std::log(resultant))) /
                                       (2.0 * std::numbers::pi)
                                 : std::numeric_limits<double>::infinity());
  figure.set_count(count);
  return figure;
}

double WrapPhase(double phase_ratio) {
  const double wrapped = phase_ratio - std::floor(phase_ratio);
  return wrapped < 1.0 ? wrapped : 0.0;  // a tiny negative number rounds to 1
}

}  // namespace gaitshelf::solver
