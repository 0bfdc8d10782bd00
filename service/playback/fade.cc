#include "service/playback/fade.h"

#include <algorithm>

namespace gaitshelf::service {
namespace {

// p(s) = sum c_k s^k with value, rate and acceleration given at s = 0, and p(1) = end at rest:
//   c3 = 10 d - 6 c1 - 3 c2,  c4 = -15 d + 8 c1 + 3 c2,  c5 = 6 d - 3 c1 - c2,  d = end - c0
std::array<double, 6> FadeCoefficients(const Fade::Value& start,
                                       double end_ratio,
                                       double duration_s) {
  const double way = end_ratio - start.ratio;
  const double first = start.rate_per_s * duration_s;
  const double second = 0.5 * start.acceleration_per_s2 * duration_s * duration_s;
  return {start.ratio,
          first,
          second,
          10.0 * way - 6.0 * first - 3.0 * second,
          -15.0 * way + 8.0 * first + 3.0 * second,
          6.0 * way - 3.0 * first - second};
}

}  // namespace

Fade::Fade(const Value& start, double end_ratio, double duration_s)
    : duration_s_(duration_s),
      end_ratio_(end_ratio),
      coefficients_(FadeCoefficients(start, end_ratio, duration_s)) {}

Fade::Value Fade::At(double time_s) const {
  // 1e-9: rounding of times; the quintic is there within its cube.
  if (time_s >= duration_s_ * (1.0 - 1e-9)) {
    return {.ratio = end_ratio_};
  }
  const double s = std::max(0.0, time_s / duration_s_);
  const auto& c = coefficients_;
  Value value;
  value.ratio = c[0] + s * (c[1] + s * (c[2] + s * (c[3] + s * (c[4] + s * c[5]))));
  value.rate_per_s =
      (c[1] + s * (2 * c[2] + s * (3 * c[3] + s * (4 * c[4] + s * 5 * c[5])))) / duration_s_;
  value.acceleration_per_s2 =
      (2 * c[2] + s * (6 * c[3] + s * (12 * c[4] + s * 20 * c[5]))) / (duration_s_ * duration_s_);
  // Between its ends but for rounding.
  value.ratio = std::clamp(value.ratio, 0.0, 1.0);
  return value;
}

}  // namespace gaitshelf::service
