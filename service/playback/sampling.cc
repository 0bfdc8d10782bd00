#include "service/playback/sampling.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <cstddef>
#include <numbers>
#include <numeric>

namespace gaitshelf::service {
namespace {

constexpr double kTailRatio = 0.01;

// Amplitude of harmonics 1 to n / 2 by the plain sum: gaits have at most 400 knots, so that a fast
// transform would not be felt.
std::vector<double> HarmonicAmplitudes(const std::vector<double>& samples) {
  const std::size_t n = samples.size();
  std::vector<double> amplitudes(n / 2);
  for (std::size_t harmonic = 1; harmonic <= n / 2; ++harmonic) {
    std::complex<double> sum = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
      const double turns = static_cast<double>((harmonic * i) % n) / static_cast<double>(n);
      sum += samples[i] * std::polar(1.0, -2.0 * std::numbers::pi * turns);
    }
    const bool is_last = 2 * harmonic == n;
    amplitudes[harmonic - 1] = std::abs(sum) * (is_last ? 1.0 : 2.0) / static_cast<double>(n);
  }
  return amplitudes;
}

std::vector<double> WithMirrorImage(std::vector<double> samples) {
  for (std::size_t i = samples.size() < 2 ? 0 : samples.size() - 2; i > 0; --i) {
    samples.push_back(samples[i]);
  }
  return samples;
}

double HighestContentOfColumns(const google::protobuf::RepeatedField<double>& values,
                               const v1::Gait& gait) {
  const int columns = 2 * gait.leg_names_size();
  double highest_hz = 0.0;
  for (int column = 0; column < columns; ++column) {
    std::vector<double> samples;
    for (int i = column; i < values.size(); i += columns) {
      samples.push_back(values[i]);
    }
    highest_hz =
        std::max(highest_hz,
                 HighestContentHz(samples, gait.knot_period_s(), gait.is_periodic(), kTailRatio));
  }
  return highest_hz;
}

}  // namespace

double AliasHz(double frequency_hz, double sample_rate_hz) {
  return std::abs(frequency_hz - sample_rate_hz * std::round(frequency_hz / sample_rate_hz));
}

double LinearInterpolationErrorRatio(double samples_per_period) {
  return 1.0 - std::cos(std::numbers::pi / samples_per_period);
}

double HighestContentHz(const std::vector<double>& samples,
                        double sample_period_s,
                        bool is_periodic,
                        double tail_ratio) {
  const std::vector<double> period = is_periodic ? samples : WithMirrorImage(samples);
  const std::vector<double> amplitudes = HarmonicAmplitudes(period);
  const double whole = std::accumulate(amplitudes.begin(), amplitudes.end(), 0.0);
  const double size =
      period.empty()
          ? 0.0
          : std::abs(*std::max_element(period.begin(), period.end(), [](double a, double b) {
              return std::abs(a) < std::abs(b);
            }));
  // 1e-9: rounding of the sums, far below any converter's step.
  if (whole <= 1e-9 * size) {
    return 0.0;
  }
  double tail = 0.0;
  std::size_t harmonic = amplitudes.size();
  while (harmonic > 1 && tail + amplitudes[harmonic - 1] <= tail_ratio * whole) {
    tail += amplitudes[harmonic - 1];
    --harmonic;
  }
  return static_cast<double>(harmonic) / (static_cast<double>(period.size()) * sample_period_s);
}

GaitContent ContentOf(const v1::Gait& gait) {
  return {.leg_position_hz = HighestContentOfColumns(gait.leg_position_m(), gait),
          .voltage_hz = HighestContentOfColumns(gait.voltage_v(), gait)};
}

double LeastSampleRateHz(const v1::Gait& gait) {
  return 2.0 * HighestContentOfColumns(gait.leg_position_m(), gait);
}

}  // namespace gaitshelf::service
