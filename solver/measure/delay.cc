#include "solver/measure/delay.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <numeric>
#include <vector>

#include "absl/strings/str_format.h"

namespace gaitshelf::solver {
namespace {

// Least overlap that a delay may leave, samples.
constexpr std::int64_t kLeastSamples = 16;
// Signals that agree by less than this have no delay in common (own choice).
constexpr double kLeastCorrelation = 0.5;
// A second peak of this share of the best explains the data as well (own choice: three tones that
// nearly repeat reach 0.94, a steady gait or a tone 0.99 and more).
constexpr double kRivalRatio = 0.95;
// How far to look when nothing is known.
constexpr double kWidestS = 1.0;
// Delays that are known to lie above 0 are looked for from a little below, so that one of 0 has a
// peak.
constexpr double kMarginRatio = 0.1;
// Noise may be correlated over this many samples.
constexpr std::int64_t kNoiseSamples = 20;
constexpr int kMostRivals = 8;
// Error of the parabola for smooth signals, in samples: 6e-4 on three tones at a twentieth of the
// rate without any noise.
constexpr double kParabolaSamples = 1e-3;

std::vector<double> WithoutMean(absl::Span<const double> values) {
  const double mean =
      std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
  std::vector<double> centred(values.begin(), values.end());
  for (double& value : centred) {
    value -= mean;
  }
  return centred;
}

std::vector<double> SumsOfSquares(const std::vector<double>& values) {
  std::vector<double> sums = {0.0};
  for (const double value : values) {
    sums.push_back(sums.back() + value * value);
  }
  return sums;
}

class Correlation {
 public:
  explicit Correlation(const DelayRequest& request)
      : reference_(WithoutMean(request.reference)),
        delayed_(WithoutMean(request.delayed)),
        reference_squares_(SumsOfSquares(reference_)),
        delayed_squares_(SumsOfSquares(delayed_)) {}

  std::int64_t count() const { return static_cast<std::int64_t>(reference_.size()); }

  // Correlation coefficient over the overlap at a lag in samples.
  double At(std::int64_t lag) const {
    double cross = 0.0;
    const std::int64_t first = std::max<std::int64_t>(0, -lag);
    const std::int64_t last = count() - std::max<std::int64_t>(0, lag);
    const double* r = reference_.data();
    const double* d = delayed_.data() + lag;
    for (std::int64_t i = first; i < last; ++i) {
      cross += r[i] * d[i];
    }
    const auto between = [](const std::vector<double>& sums, std::int64_t from, std::int64_t to) {
      return sums[static_cast<std::size_t>(to)] - sums[static_cast<std::size_t>(from)];
    };
    const double product = between(reference_squares_, first, last) *
                           between(delayed_squares_, first + lag, last + lag);
    return product > 0.0 ? cross / std::sqrt(product) : 0.0;
  }

  // Standard uncertainty of a delay near a lag, samples: least squares for gain and delay of d(t) =
  // gain r(t - delay) + noise, with the covariance of the noise estimated from what is left.
  double Uncertainty(double delay_samples) const {
    const auto whole = static_cast<std::int64_t>(std::floor(delay_samples));
    const double part = delay_samples - static_cast<double>(whole);
    const std::int64_t first = std::max<std::int64_t>(0, whole + 1) + 1;
    const std::int64_t last = count() + std::min<std::int64_t>(0, whole) - 2;
    std::vector<double> shifted, slope, left;
    double cross = 0.0, square = 0.0;
    for (std::int64_t i = first; i < last; ++i) {
      const double* r = reference_.data() + (i - whole);
      // The reference at i - delay, between two samples; cubic through four.
      const double value = Cubic(r[-2], r[-1], r[0], r[1], 1.0 - part);
      shifted.push_back(value);
      slope.push_back(0.5 * ((1.0 - part) * (r[1] - r[-1]) + part * (r[0] - r[-2])));
      cross += value * delayed_[static_cast<std::size_t>(i)];
      square += value * value;
    }
    if (shifted.empty() || square <= 0.0) {
      return 0.0;
    }
    const double gain = cross / square;
    double information = 0.0;
    std::vector<double> score(shifted.size());
    for (std::size_t i = 0; i < shifted.size(); ++i) {
      const double derivative = gain * slope[i];
      const double noise = delayed_[static_cast<std::size_t>(first) + i] - gain * shifted[i];
      information += derivative * derivative;
      score[i] = derivative * noise;
    }
    return information > 0.0 ? std::sqrt(std::max(0.0, LongRunSum(score))) / information : 0.0;
  }

 private:
  static double Cubic(double a, double b, double c, double d, double t) {
    return b +
           0.5 * t * (c - a + t * (2.0 * a - 5.0 * b + 4.0 * c - d + t * (3.0 * (b - c) + d - a)));
  }

  // Variance of the sum of correlated numbers of mean 0: squares and products over few lags with
  // falling weights (W. K. Newey, K. D. West, Econometrica 55 (1987) 703-708, from memory).
  static double LongRunSum(const std::vector<double>& score) {
    const auto count = static_cast<std::int64_t>(score.size());
    double sum = 0.0;
    for (std::int64_t lag = 0; lag <= std::min(kNoiseSamples, count - 1); ++lag) {
      double product = 0.0;
      for (std::int64_t i = lag; i < count; ++i) {
        product += score[static_cast<std::size_t>(i)] * score[static_cast<std::size_t>(i - lag)];
      }
      const double weight = 1.0 - static_cast<double>(lag) / static_cast<double>(kNoiseSamples + 1);
      sum += (lag == 0 ? 1.0 : 2.0) * weight * product;
    }
    return sum;
  }

  std::vector<double> reference_;
  std::vector<double> delayed_;
  std::vector<double> reference_squares_;  // sums up to each sample
  std::vector<double> delayed_squares_;
};

// Lags in samples: where the delay may lie, and where rivals count.
struct Window {
  std::int64_t first = 0;
  std::int64_t last = 0;
  std::int64_t first_rival = 0;
  std::int64_t last_rival = 0;
};

Window WindowOf(const DelayRequest& request, std::int64_t count) {
  const auto samples = [&](double time_s) {
    return static_cast<std::int64_t>(std::ceil(time_s / request.sample_period_s));
  };
  const std::int64_t most = (count - kLeastSamples) / 2;
  if (request.greatest_delay_s > 0.0) {
    const std::int64_t last = std::min(most, samples(request.greatest_delay_s) + 1);
    const std::int64_t first = -std::min<std::int64_t>(
        most, std::max<std::int64_t>(2, samples(kMarginRatio * request.greatest_delay_s)));
    return {first, last, first, last};
  }
  const std::int64_t reach = std::min({most, count / 4, samples(kWidestS)});
  const std::int64_t rival_reach = std::min(most, 2 * reach);
  return {-reach, reach, -rival_reach, rival_reach};
}

// Lag of the top of a parabola through three neighbours, relative to the middle one.
double ParabolaTop(double left, double middle, double right) {
  const double bend = left - 2.0 * middle + right;
  return bend < 0.0 ? std::clamp(0.5 * (left - right) / bend, -0.5, 0.5) : 0.0;
}

v1::DelayEstimate NotFound(const std::string& reason) {
  v1::DelayEstimate estimate;
  estimate.set_outcome(v1::DELAY_OUTCOME_NOT_FOUND);
  estimate.set_reason(reason);
  return estimate;
}

}  // namespace

v1::DelayEstimate EstimateDelay(const DelayRequest& request) {
  const auto count = static_cast<std::int64_t>(request.reference.size());
  if (request.delayed.size() != request.reference.size() || count < 2 * kLeastSamples ||
      !(request.sample_period_s > 0.0)) {
    return NotFound(absl::StrFormat(
        "the common record has %d samples; at least %d are needed", count, 2 * kLeastSamples));
  }
  const Correlation correlation(request);
  const Window window = WindowOf(request, count);
  std::vector<double> at;
  for (std::int64_t lag = window.first_rival; lag <= window.last_rival; ++lag) {
    at.push_back(correlation.At(lag));
  }
  const auto begin = static_cast<std::size_t>(window.first - window.first_rival);
  const auto end = static_cast<std::size_t>(window.last - window.first_rival);
  const auto best =
      static_cast<std::size_t>(std::max_element(at.begin() + static_cast<std::ptrdiff_t>(begin),
                                                at.begin() + static_cast<std::ptrdiff_t>(end) + 1) -
                               at.begin());
  if (at[best] < kLeastCorrelation) {
    return NotFound(absl::StrFormat(
        "the signals agree nowhere: their correlation is at most %.2f, %.2f is needed",
        at[best],
        kLeastCorrelation));
  }
  if (best == begin || best == end) {
    return NotFound(
        absl::StrFormat("the best delay is at the end of what was looked at, %.4g s",
                        static_cast<double>(window.first_rival + static_cast<std::int64_t>(best)) *
                            request.sample_period_s));
  }
  const auto lag_of = [&](std::size_t i) {
    return static_cast<double>(window.first_rival + static_cast<std::int64_t>(i)) +
           ParabolaTop(at[i - 1], at[i], at[i + 1]);
  };
  v1::DelayEstimate estimate;
  estimate.set_correlation_ratio(at[best]);
  estimate.set_delay_s(lag_of(best) * request.sample_period_s);
  estimate.set_uncertainty_s(std::hypot(correlation.Uncertainty(lag_of(best)), kParabolaSamples) *
                             request.sample_period_s);
  estimate.set_outcome(v1::DELAY_OUTCOME_FOUND);
  for (std::size_t i = 1; i + 1 < at.size(); ++i) {
    const bool is_peak = i != best && at[i] > at[i - 1] && at[i] >= at[i + 1];
    if (is_peak && at[i] >= kRivalRatio * at[best] && estimate.rival_s_size() < kMostRivals) {
      estimate.add_rival_s(lag_of(i) * request.sample_period_s);
    }
  }
  if (!estimate.rival_s().empty()) {
    estimate.set_outcome(v1::DELAY_OUTCOME_AMBIGUOUS);
    estimate.set_reason(absl::StrFormat(
        "delays of %.4g s and %.4g s explain the data alike; state the greatest delay that the "
        "tracking system can have, less than a period, or let the robot start or stop in the log",
        estimate.delay_s(),
        estimate.rival_s(0)));
  }
  return estimate;
}

}  // namespace gaitshelf::solver
