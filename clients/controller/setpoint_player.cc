#include "clients/controller/setpoint_player.h"

#include <algorithm>
#include <cmath>

namespace gaitshelf::client {
namespace {

// Of the own way down, as long as the server's.
constexpr double kRamp_s = 0.5;
// What rounding in sums may do to a rate or a slew that stands at its limit.
constexpr double kRounding = 1.0 + 1e-9;

bool IsSound(const Setpoint& setpoint, std::size_t channel_count) {
  for (std::size_t i = 0; i < channel_count; ++i) {
    if (!std::isfinite(setpoint.position_m[i]) || !std::isfinite(setpoint.rate_m_per_s[i]) ||
        !std::isfinite(setpoint.voltage_v[i])) {
      return false;
    }
  }
  return true;
}

// Goes from `last` towards `wanted` by at most `reach`.
double Towards(double wanted, double last, double reach) {
  return std::clamp(wanted, last - reach, last + reach);
}

}  // namespace

SetpointPlayer::SetpointPlayer(SetpointRing* ring, const Limits& limits, std::size_t first_fill)
    : ring_(ring), limits_(limits), first_fill_(first_fill) {
  last_.number = -1;
  last_.position_m = limits.rest_position_m;
  last_.voltage_v = limits.rest_voltage_v;
}

PlayState SetpointPlayer::Next(Setpoint* setpoint) {
  PlayState state = state_.load(std::memory_order_relaxed);
  if (state == PlayState::kWaiting) {
    state = StateAfterWaiting();
  } else if (is_ramp_wanted_.load(std::memory_order_relaxed) && state == PlayState::kPlaying) {
    BeginRamp();
    state = PlayState::kRamping;
  }
  if (state == PlayState::kPlaying && !TakeNext(setpoint)) {
    BeginRamp();
    state = PlayState::kRamping;
  }
  if (state == PlayState::kRamping) {
    FollowRamp(setpoint);
  } else if (state != PlayState::kPlaying) {
    Hold(setpoint);
  }
  if (Clamp(setpoint) && state == PlayState::kPlaying) {
    held_back_count_.fetch_add(1, std::memory_order_release);
  }
  last_ = *setpoint;
  if ((state == PlayState::kPlaying || state == PlayState::kRamping) && setpoint->is_last) {
    state = PlayState::kRested;
  }
  state_.store(state, std::memory_order_release);
  return state;
}

PlayState SetpointPlayer::StateAfterWaiting() const {
  const Input input = input_.load(std::memory_order_acquire);
  if (is_ramp_wanted_.load(std::memory_order_relaxed) || input == Input::kBroken) {
    return PlayState::kRested;
  }
  return input == Input::kWhole || ring_->size() >= first_fill_ ? PlayState::kPlaying
                                                                : PlayState::kWaiting;
}

bool SetpointPlayer::TakeNext(Setpoint* setpoint) {
  if (!ring_->Take(setpoint)) {
    underrun_count_.fetch_add(1, std::memory_order_release);
    return false;
  }
  played_count_.fetch_add(1, std::memory_order_release);
  if (input_.load(std::memory_order_acquire) == Input::kComing) {
    const auto left = static_cast<std::int64_t>(ring_->size());
    if (left < least_left_count_.load(std::memory_order_relaxed)) {
      least_left_count_.store(left, std::memory_order_release);
    }
  }
  return IsSound(*setpoint, limits_.channel_count);
}

void SetpointPlayer::Hold(Setpoint* setpoint) const {
  *setpoint = last_;
  setpoint->phase_ratio = -1.0;
  setpoint->rate_m_per_s.fill(0.0);
}

void SetpointPlayer::BeginRamp() {
  ramp_start_ = last_;
  ramp_period_count_ = 0;
}

// Legs stop where they are and go to rest on a smooth path: keeping their rate for a while would
// carry a fast leg beyond its travel. Voltages go straight. Both are then held to the limits, so
// that slow drives come to rest later.
void SetpointPlayer::FollowRamp(Setpoint* setpoint) {
  ++ramp_period_count_;
  const double time_s = static_cast<double>(ramp_period_count_) / limits_.sample_rate_hz;
  const double s = std::min(time_s / kRamp_s, 1.0);
  const double rest_share = s * s * (3.0 - 2.0 * s);
  *setpoint = last_;
  setpoint->phase_ratio = -1.0;
  bool is_at_rest = s >= 1.0;
  for (std::size_t i = 0; i < limits_.channel_count; ++i) {
    const double away_m = ramp_start_.position_m[i] - limits_.rest_position_m[i];
    const double away_v = ramp_start_.voltage_v[i] - limits_.rest_voltage_v[i];
    setpoint->position_m[i] = limits_.rest_position_m[i] + (1.0 - rest_share) * away_m;
    setpoint->rate_m_per_s[i] =
        (setpoint->position_m[i] - last_.position_m[i]) * limits_.sample_rate_hz;
    setpoint->voltage_v[i] = limits_.rest_voltage_v[i] + (1.0 - s) * away_v;
    is_at_rest = is_at_rest && last_.position_m[i] == limits_.rest_position_m[i] &&
                 last_.voltage_v[i] == limits_.rest_voltage_v[i];
  }
  setpoint->is_last = is_at_rest;
}

// The server holds its samples to the same limits; what is not as it was sent, or not from it,
// stops here. Returns whether it had to.
bool SetpointPlayer::Clamp(Setpoint* setpoint) {
  bool is_held_back = false;
  const auto hold = [&is_held_back](double* value, double held) {
    is_held_back = is_held_back || *value != held;
    *value = held;
  };
  for (std::size_t i = 0; i < limits_.channel_count; ++i) {
    const double rate = limits_.leg_rate_m_per_s[i];
    hold(&setpoint->rate_m_per_s[i], std::clamp(setpoint->rate_m_per_s[i], -rate, rate));
    hold(&setpoint->position_m[i],
         Towards(setpoint->position_m[i],
                 last_.position_m[i],
                 rate / limits_.sample_rate_hz * kRounding));
    const double voltage_v = Towards(setpoint->voltage_v[i],
                                     last_.voltage_v[i],
                                     limits_.slew_v_per_s[i] / limits_.sample_rate_hz * kRounding);
    hold(&setpoint->voltage_v[i],
         std::clamp(voltage_v, limits_.min_voltage_v[i], limits_.max_voltage_v[i]));
  }
  return is_held_back;
}

}  // namespace gaitshelf::client
