#include "service/playback/sampling.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <cstddef>
#include <numbers>
#include <utility>

namespace gaitshelf::service {
namespace {

constexpr double kTailRatio = 0.03;

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

std::vector<double> ColumnOf(const google::protobuf::RepeatedField<double>& values,
                             int column,
                             int column_count) {
  std::vector<double> samples;
  for (int i = column; i < values.size(); i += column_count) {
    samples.push_back(values[i]);
  }
  return samples;
}

double HighestContentOfColumns(const google::protobuf::RepeatedField<double>& values,
                               const v1::Gait& gait) {
  const int columns = 2 * gait.leg_names_size();
  double highest_hz = 0.0;
  for (int column = 0; column < columns; ++column) {
    highest_hz = std::max(highest_hz,
                          HighestContentHz(ColumnOf(values, column, columns),
                                           gait.knot_period_s(),
                                           gait.is_periodic(),
                                           kTailRatio));
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
  double power = 0.0;
  double level = 0.0;
  for (const double amplitude : amplitudes) {
    power += amplitude * amplitude;
  }
  for (const double sample : period) {
    level = std::max(level, std::abs(sample));
  }
  // 1e-9: rounding of the sums, far below any converter's step.
  if (std::sqrt(power) <= 1e-9 * level) {
    return 0.0;
  }
  double tail = 0.0;
  std::size_t harmonic = amplitudes.size();
  while (harmonic > 1) {
    const double amplitude = amplitudes[harmonic - 1];
    if (tail + amplitude * amplitude > tail_ratio * tail_ratio * power) {
      break;
    }
    tail += amplitude * amplitude;
    --harmonic;
  }
  return static_cast<double>(harmonic) / (static_cast<double>(period.size()) * sample_period_s);
}

GaitContent ContentOf(const v1::Gait& gait) {
  return {.leg_position_hz = HighestContentOfColumns(gait.leg_position_m(), gait),
          .voltage_hz = HighestContentOfColumns(gait.voltage_v(), gait)};
}

double LegLineErrorM(const v1::Gait& gait, double sample_rate_hz) {
  const int columns = 2 * gait.leg_names_size();
  double worst_m = 0.0;
  for (int column = 0; column < columns; ++column) {
    std::vector<double> samples = ColumnOf(gait.leg_position_m(), column, columns);
    if (!gait.is_periodic()) {
      samples = WithMirrorImage(std::move(samples));
    }
    const std::vector<double> amplitudes = HarmonicAmplitudes(samples);
    const double period_s = static_cast<double>(samples.size()) * gait.knot_period_s();
    double error_m = 0.0;
    for (std::size_t i = 0; i < amplitudes.size(); ++i) {
      const double samples_per_period = sample_rate_hz * period_s / static_cast<double>(i + 1);
      error_m += amplitudes[i] * LinearInterpolationErrorRatio(std::max(1.0, samples_per_period));
    }
    worst_m = std::max(worst_m, error_m);
  }
  return worst_m;
}

double LeastSampleRateHz(const v1::Gait& gait) {
  return 2.0 * HighestContentOfColumns(gait.leg_position_m(), gait);
}

}  // namespace gaitshelf::service
