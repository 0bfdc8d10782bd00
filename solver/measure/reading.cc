#include "solver/measure/reading.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <optional>

#include "solver/base/constants.h"

namespace gaitshelf::solver {
namespace {

// Samples further apart than this many intervals are not joined by a line (own choice).
constexpr double kBridgeIntervals = 4.5;

// Goes from a row on, by -1 or 1, to the first with a value; none when a row without one is the
// last or further from a time than the bridge.
std::optional<std::size_t> NearestKnown(const Channel& channel,
                                        std::size_t row,
                                        std::ptrdiff_t step,
                                        double time_s) {
  const std::vector<double>& times = *channel.time_s;
  const std::size_t last = step < 0 ? 0 : times.size() - 1;
  while (std::isnan((*channel.values)[row])) {
    if (row == last || std::abs(times[row] - time_s) > kBridgeIntervals * channel.interval_s) {
      return std::nullopt;
    }
    row += static_cast<std::size_t>(step);
  }
  return row;
}

}  // namespace

double Reading::At(double time_s) {
  if (!channel_) {
    return kNan;
  }
  const std::vector<double>& times = *channel_.time_s;
  const std::vector<double>& values = *channel_.values;
  const double own_s = time_s + options_.shift_s;
  // A record begins and ends with its samples, but for the rounding of a time.
  const double slack_s = 1e-6 * channel_.interval_s;
  if (!(own_s >= times.front() - slack_s) || !(own_s <= times.back() + slack_s)) {
    return kNan;
  }
  constexpr std::size_t kSteps = 64;  // a longer way goes by halving
  if (times[row_] > own_s || (row_ + kSteps < times.size() && times[row_ + kSteps] < own_s)) {
    const auto above = std::upper_bound(times.begin(), times.end(), own_s);
    row_ = static_cast<std::size_t>(std::max<std::ptrdiff_t>(0, above - times.begin() - 1));
  }
  while (row_ + 1 < times.size() && times[row_ + 1] <= own_s) {
    ++row_;
  }
  const std::optional<std::size_t> left = NearestKnown(channel_, row_, -1, own_s);
  if (!left.has_value()) {
    return kNan;
  }
  if (times[*left] == own_s || row_ + 1 == times.size()) {
    return *left == row_ ? values[*left] : kNan;
  }
  const std::optional<std::size_t> right = NearestKnown(channel_, row_ + 1, 1, own_s);
  if (!right.has_value() || times[*right] - times[*left] > kBridgeIntervals * channel_.interval_s) {
    return kNan;
  }
  double step = values[*right] - values[*left];
  if (options_.is_angle) {
    step = std::remainder(step, 2.0 * std::numbers::pi);
  }
  return values[*left] + step * (own_s - times[*left]) / (times[*right] - times[*left]);
}

}  // namespace gaitshelf::solver
