#include "service/playback/voltage_limiter.h"

#include <algorithm>
#include <cmath>

namespace gaitshelf::service {
namespace {

// Keeps the difference of two rounded samples inside the rate in spite of rounding.
constexpr double kRoundingMargin = 1e-9;

}  // namespace

VoltageQuantiser::VoltageQuantiser(double min_v, double max_v, int bits)
    : min_v_(min_v),
      max_v_(max_v),
      step_v_(bits == 0 ? 0.0 : std::ldexp(max_v - min_v, -bits)),
      last_step_(std::ldexp(1.0, bits) - 1.0) {}

double VoltageQuantiser::Round(double voltage_v) const {
  if (!(step_v_ > 0.0)) {
    return std::clamp(voltage_v, min_v_, max_v_);
  }
  const double step = std::clamp(std::floor((voltage_v - min_v_) / step_v_), 0.0, last_step_);
  return min_v_ + (step + 0.5) * step_v_;
}

VoltageLimiter::VoltageLimiter(const v1::Bimorph& bimorph, double sample_period_s, int drive_bits)
    : quantiser_(bimorph.min_v(), bimorph.max_v(), drive_bits),
      min_v_(bimorph.min_v()),
      max_v_(bimorph.max_v()),
      slew_v_per_s_(bimorph.slew_v_per_s()),
      rest_v_(quantiser_.Round(bimorph.bias_v())),
      last_v_(rest_v_) {
  SetSamplePeriod(sample_period_s);
}

void VoltageLimiter::SetSamplePeriod(double sample_period_s) {
  reach_v_ = slew_v_per_s_ * sample_period_s * (1.0 - kRoundingMargin);
}

double VoltageLimiter::Next(double target_v) {
  const double wanted_v = quantiser_.Round(std::isfinite(target_v) ? target_v : rest_v_);
  const double change_v = wanted_v - last_v_;
  if (std::abs(change_v) <= reach_v_) {
    last_v_ = wanted_v;
    return last_v_;
  }
  const double step_v = quantiser_.step_v();
  const double allowed_v = step_v > 0.0 ? std::floor(reach_v_ / step_v) * step_v : reach_v_;
  const double moved_v = last_v_ + std::copysign(allowed_v, change_v);
  // The target is inside the range and beyond moved_v, so this only takes away rounding. With a
  // converter it also puts the value back onto the exact middle of its step.
  last_v_ = step_v > 0.0 ? quantiser_.Round(moved_v) : std::clamp(moved_v, min_v_, max_v_);
  return last_v_;
}

}  // namespace gaitshelf::service
