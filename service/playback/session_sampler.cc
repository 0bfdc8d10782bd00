#include "service/playback/session_sampler.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <utility>

#include "absl/strings/str_cat.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

// Greatest slope of a fade from rest to rest, over 1 / duration (fade.h).
constexpr double kSwitchSlope = 1.875;
// A switch takes as long as the limit of the rate asks for, but at least as long as a leg's own
// oscillation at about 100 Hz needs to die down, and never longer than a second: the limit is set
// so that this is enough.
constexpr double kShortestSwitch_s = 0.1;
constexpr double kLongestSwitch_s = 1.0;
// Share of the fastest gait's rate by which a switch may exceed it (own choice).
constexpr double kSwitchRateRatio = 0.25;
// Greatest change of the pace, 1/s: from a crawl to full pace in half a second, as the ramps.
constexpr double kPaceSlew_per_s = 2.0;
// 1e-9: rounding of sums of positions.
constexpr double kRounding = 1e-9;

double Wrapped(double phase_ratio) { return phase_ratio - std::floor(phase_ratio); }

}  // namespace

absl::StatusOr<SessionSampler> SessionSampler::Create(std::vector<PlayableGait> gaits,
                                                      const v1::Robot& robot,
                                                      const SamplerOptions& options) {
  for (const PlayableGait& gait : gaits) {
    if (gait.leg_names != gaits[0].leg_names || gait.foot_names != gaits[0].foot_names) {
      return absl::FailedPreconditionError(absl::StrCat(
          "gaits ", gaits[0].name, " and ", gait.name, " are not of the same legs and feet"));
    }
  }
  SessionSampler sampler(options);
  GAITSHELF_ASSIGN_OR_RETURN(
      sampler.channels_,
      MakeChannels(robot,
                   {.sample_rate_hz = options.sample_rate_hz, .drive_bits = options.drive_bits}));
  sampler.gaits_ = std::move(gaits);
  for (const DriveChannel& channel : sampler.channels_) {
    sampler.last_position_m_.push_back(channel.rest_m);
  }
  sampler.SetRateLimits();
  return sampler;
}

// Limit of each coordinate's rate over all gaits, so that it stands before anything moves:
//   blend  R + max(R / 4, 1.875 D / 1 s)   R greatest rate of any gait, D greatest distance of any
//                                          two: leaves room for a switch of at most 1 s
//   limit  blend + 2.0071 E / ramp         E greatest distance from rest: what a ramp adds
void SessionSampler::SetRateLimits() {
  for (std::size_t i = 0; i < channels_.size(); ++i) {
    double rate_m_per_s = 0.0;
    double min_m = channels_[i].rest_m;
    double max_m = min_m;
    for (const PlayableGait& gait : gaits_) {
      rate_m_per_s = std::max(rate_m_per_s, gait.bounds[i].greatest_rate_m_per_s);
      min_m = std::min(min_m, gait.bounds[i].min_m);
      max_m = std::max(max_m, gait.bounds[i].max_m);
    }
    const double from_rest_m = std::max(max_m - channels_[i].rest_m, channels_[i].rest_m - min_m);
    const double blend_m_per_s =
        rate_m_per_s + std::max(kSwitchRateRatio * rate_m_per_s,
                                kSwitchSlope * (max_m - min_m) / kLongestSwitch_s);
    blend_rate_m_per_s_.push_back(blend_m_per_s);
    rate_limit_m_per_s_.push_back(blend_m_per_s +
                                  Fade::kGreatestSlope * from_rest_m / options_.ramp_s);
  }
}

v1::SessionLimits SessionSampler::Limits() const {
  v1::SessionLimits limits;
  limits.set_sample_rate_hz(options_.sample_rate_hz);
  for (std::size_t i = 0; i < channels_.size(); ++i) {
    const DriveChannel& channel = channels_[i];
    limits.add_rest_position_m(channel.rest_m);
    limits.add_leg_rate_m_per_s(rate_limit_m_per_s_[i]);
    limits.add_rest_voltage_v(channel.limiter.has_value() ? channel.limiter->rest_v() : 0.0);
    limits.add_min_voltage_v(channel.bimorph.min_v());
    limits.add_max_voltage_v(channel.bimorph.max_v());
    limits.add_slew_v_per_s(channel.bimorph.slew_v_per_s());
  }
  return limits;
}

// ---- Commands ----

void SessionSampler::Start() {
  EnterState(v1::SESSION_STATE_RISING);
  motion_ = Fade({}, 1.0, options_.ramp_s);
  motion_start_s_ = time_s_;
  // At phase 0 when the way up is done; a hop waits at its first knot.
  const PlayableGait& gait = GaitOf(voice_);
  voice_.phase_ratio = -options_.ramp_s * pace_ratio_ / gait.curve.cycle_s();
  if (gait.is_periodic) {
    voice_.phase_ratio = Wrapped(voice_.phase_ratio);
  }
  Voice first;
  EvaluateVoice(&first);
  body_position_m_ = first.point.body_position_m;
  body_attitude_rad_ = first.point.body_attitude_rad;
  way_.Start(PlaneOf(first.point));
  EvaluateVoice(&voice_);
}

absl::Status SessionSampler::SwitchTo(int gait_index, std::optional<double> phase_ratio) {
  if (state_ == v1::SESSION_STATE_LOWERING || is_finished()) {
    return absl::FailedPreconditionError(
        "the session is on its way to rest; arm a new one to play another gait");
  }
  const int present = next_voice_.has_value() ? next_voice_->gait_index : voice_.gait_index;
  wanted_gait_index_.reset();
  if (gait_index == present) {
    return absl::OkStatus();
  }
  const PlayableGait& from = gaits_[static_cast<std::size_t>(present)];
  const PlayableGait& to = gaits_[static_cast<std::size_t>(gait_index)];
  wanted_gait_index_ = gait_index;
  wanted_phase_ratio_.reset();
  if (from.is_periodic && to.is_periodic) {
    wanted_phase_ratio_ = phase_ratio.has_value() ? *phase_ratio : ClosestPhase(from, to);
  }
  return absl::OkStatus();
}

void SessionSampler::SetPace(double pace_ratio) {
  wanted_pace_ratio_ = pace_ratio;
  if (!is_started()) {
    pace_ratio_ = pace_ratio;
  }
}

absl::Status SessionSampler::SetSampleRate(double sample_rate_hz) {
  GAITSHELF_RETURN_IF_ERROR(CheckConverters(
      channels_, {.sample_rate_hz = sample_rate_hz, .drive_bits = options_.drive_bits}));
  options_.sample_rate_hz = sample_rate_hz;
  rate_start_s_ = time_s_;
  rate_start_count_ = sample_count_;
  for (DriveChannel& channel : channels_) {
    if (channel.limiter.has_value()) {
      channel.limiter->SetSamplePeriod(1.0 / sample_rate_hz);
    }
  }
  return absl::OkStatus();
}

void SessionSampler::Stop() {
  if (!is_started() || state_ == v1::SESSION_STATE_LOWERING || is_finished()) {
    return;
  }
  motion_ = Fade(motion_.At(time_s_ - motion_start_s_), 0.0, options_.ramp_s);
  motion_start_s_ = time_s_;
  EnterState(v1::SESSION_STATE_LOWERING);
}

// ---- Switches ----

bool SessionSampler::IsMatched() const {
  return next_voice_.has_value() && GaitOf(voice_).is_periodic && GaitOf(*next_voice_).is_periodic;
}

// Long enough that what the fade adds stays within the limit, whatever the phases.
double SessionSampler::SwitchDuration() const {
  const PlayableGait& from = GaitOf(voice_);
  const PlayableGait& to = GaitOf(*next_voice_);
  double duration_s = kShortestSwitch_s;
  for (std::size_t i = 0; i < channels_.size(); ++i) {
    const LegBounds& a = from.bounds[i];
    const LegBounds& b = to.bounds[i];
    const double apart_m = std::max(a.max_m - b.min_m, b.max_m - a.min_m);
    const double room_m_per_s =
        blend_rate_m_per_s_[i] - std::max(a.greatest_rate_m_per_s, b.greatest_rate_m_per_s);
    if (apart_m > 0.0) {
      duration_s = std::max(duration_s, kSwitchSlope * apart_m / room_m_per_s);
    }
  }
  return duration_s;
}

bool SessionSampler::MayBeginSwitch(double phase_before_ratio) const {
  if (!wanted_gait_index_.has_value() || state_ != v1::SESSION_STATE_PLAYING) {
    return false;
  }
  if (!GaitOf(voice_).is_periodic) {
    return voice_.phase_ratio >= 1.0;  // the hop has landed
  }
  if (!wanted_phase_ratio_.has_value()) {
    return true;
  }
  // Whether the phase was passed by the last sample, also across the end of a cycle.
  const double way_ratio = Wrapped(voice_.phase_ratio - phase_before_ratio);
  return Wrapped(*wanted_phase_ratio_ - phase_before_ratio) <= way_ratio &&
         voice_.phase_ratio != phase_before_ratio;
}

void SessionSampler::BeginSwitch() {
  next_voice_ = Voice();
  next_voice_->gait_index = *wanted_gait_index_;
  wanted_gait_index_.reset();
  const double duration_s = SwitchDuration();
  share_ = Fade({}, 1.0, duration_s);
  share_start_s_ = time_s_;
  if (IsMatched()) {
    next_voice_->phase_ratio = voice_.phase_ratio;
  } else if (GaitOf(*next_voice_).is_periodic) {
    next_voice_->phase_ratio =
        Wrapped(-duration_s * pace_ratio_ / GaitOf(*next_voice_).curve.cycle_s());
  }
  EvaluateVoice(&*next_voice_);
  EnterState(v1::SESSION_STATE_SWITCHING);
}

void SessionSampler::EndSwitch() {
  voice_ = std::move(*next_voice_);
  next_voice_.reset();
  share_ = Fade(0.0);
  if (state_ == v1::SESSION_STATE_SWITCHING) {
    EnterState(v1::SESSION_STATE_PLAYING);
  }
}

// ---- Time ----

// Cycles per second of a voice while the share of the next one is `share_ratio`.
double SessionSampler::FrequencyHz(const Voice& voice, double share_ratio) const {
  if (!IsMatched()) {
    return pace_ratio_ / GaitOf(voice).curve.cycle_s();
  }
  return pace_ratio_ / ((1.0 - share_ratio) * GaitOf(voice_).curve.cycle_s() +
                        share_ratio * GaitOf(*next_voice_).curve.cycle_s());
}

void SessionSampler::EvaluateVoice(Voice* voice) const {
  const GaitCurve& curve = GaitOf(*voice).curve;
  curve.Evaluate(voice->phase_ratio * curve.cycle_s(), &voice->point);
}

void SessionSampler::MoveVoice(Voice* voice, double cycles) {
  const solver::PlanarPose before = PlaneOf(voice->point);
  voice->phase_ratio += cycles;
  EvaluateVoice(voice);
  voice->step = StepBetween(before, PlaneOf(voice->point));
  if (!GaitOf(*voice).is_periodic) {
    voice->phase_ratio = std::min(voice->phase_ratio, 1.0);
  } else if (voice->phase_ratio >= 1.0) {
    voice->phase_ratio = Wrapped(voice->phase_ratio);
    EvaluateVoice(voice);
  }
}

void SessionSampler::MovePace() {
  const double reach = kPaceSlew_per_s / options_.sample_rate_hz;
  pace_ratio_ += std::clamp(wanted_pace_ratio_ - pace_ratio_, -reach, reach);
}

// From one sample to the next: phases by the mean of the frequencies at both.
void SessionSampler::Advance() {
  const double period_s = 1.0 / options_.sample_rate_hz;
  const double share_before = share_.At(time_s_ - share_start_s_).ratio;
  double hz = FrequencyHz(voice_, share_before);
  double next_hz = next_voice_.has_value() ? FrequencyHz(*next_voice_, share_before) : 0.0;
  MovePace();
  // Not by adding up periods, whose rounding would grow.
  time_s_ = rate_start_s_ + static_cast<double>(sample_count_ - rate_start_count_) * period_s;
  const double share_after = share_.At(time_s_ - share_start_s_).ratio;
  hz = 0.5 * (hz + FrequencyHz(voice_, share_after));
  const double phase_before_ratio = voice_.phase_ratio;
  if (next_voice_.has_value()) {
    next_hz = 0.5 * (next_hz + FrequencyHz(*next_voice_, share_after));
    const bool is_waiting_hop = !GaitOf(*next_voice_).is_periodic;
    MoveVoice(&voice_, hz * period_s);
    MoveVoice(&*next_voice_, is_waiting_hop ? 0.0 : next_hz * period_s);
    if (share_after >= 1.0) {
      EndSwitch();
    }
    return;
  }
  MoveVoice(&voice_, hz * period_s);
  if (MayBeginSwitch(phase_before_ratio)) {
    BeginSwitch();
  }
}

void SessionSampler::EnterState(v1::SessionState state) {
  state_ = state;
  is_change_due_ = true;
}

void SessionSampler::ReportChange(std::vector<v1::StateChange>* changes) {
  if (!is_change_due_) {
    return;
  }
  is_change_due_ = false;
  if (changes == nullptr) {
    return;
  }
  v1::StateChange& change = changes->emplace_back();
  change.set_first_sample(sample_count_);
  change.set_state(state_);
  change.set_gait(GaitOf(next_voice_.has_value() ? *next_voice_ : voice_).name);
}

bool SessionSampler::IsAtRest() const {
  for (std::size_t i = 0; i < channels_.size(); ++i) {
    const DriveChannel& channel = channels_[i];
    if (last_position_m_[i] != channel.rest_m ||
        (channel.limiter.has_value() && !channel.limiter->is_at_rest())) {
      return false;
    }
  }
  return true;
}

// ---- Samples ----

void SessionSampler::Append(int sample_count,
                            v1::SetpointBlock* block,
                            std::vector<v1::StateChange>* changes) {
  if (block->sample_count() == 0) {
    block->set_first_sample(sample_count_);
    block->set_first_sample_time_s(time_s_);
    block->set_sample_period_s(1.0 / options_.sample_rate_hz);
    if (sample_count_ == 0) {
      block->mutable_leg_names()->Assign(gaits_[0].leg_names.begin(), gaits_[0].leg_names.end());
      block->mutable_foot_names()->Assign(gaits_[0].foot_names.begin(), gaits_[0].foot_names.end());
    }
  }
  for (int i = 0; i < sample_count && is_started() && !is_finished(); ++i) {
    AppendSample(block, changes);
  }
}

void SessionSampler::AppendSample(v1::SetpointBlock* block, std::vector<v1::StateChange>* changes) {
  const Fade::Value motion = motion_.At(time_s_ - motion_start_s_);
  if (state_ == v1::SESSION_STATE_RISING && motion.ratio >= 1.0) {
    EnterState(v1::SESSION_STATE_PLAYING);
  }
  const Fade::Value share = share_.At(time_s_ - share_start_s_);
  AppendLegs(motion, share, block);
  // Slow drives may come to rest later than the ramp: the session goes on until they have.
  if (state_ == v1::SESSION_STATE_LOWERING && motion.ratio <= 0.0 && IsAtRest()) {
    EnterState(v1::SESSION_STATE_RESTED);
  }
  ReportChange(changes);
  AppendBody(motion.ratio < 1.0, share.ratio, block);
  block->set_sample_count(block->sample_count() + 1);
  ++sample_count_;
  Advance();
}

void SessionSampler::AppendLegs(const Fade::Value& motion,
                                const Fade::Value& share,
                                v1::SetpointBlock* block) {
  const bool is_switching = next_voice_.has_value();
  const double hz = FrequencyHz(voice_, share.ratio) * GaitOf(voice_).curve.cycle_s();
  const double next_hz =
      is_switching ? FrequencyHz(*next_voice_, share.ratio) * GaitOf(*next_voice_).curve.cycle_s()
                   : 0.0;
  for (std::size_t i = 0; i < channels_.size(); ++i) {
    double gait_m = voice_.point.leg_position_m[i];
    double gait_m_per_s = hz * voice_.point.leg_rate_m_per_s[i];
    double gait_v = voice_.point.voltage_v[i];
    if (is_switching) {
      const CurvePoint& next = next_voice_->point;
      const double apart_m = next.leg_position_m[i] - gait_m;
      gait_m += share.ratio * apart_m;
      gait_m_per_s += share.ratio * (next_hz * next.leg_rate_m_per_s[i] - gait_m_per_s) +
                      share.rate_per_s * apart_m;
      gait_v += share.ratio * (next.voltage_v[i] - gait_v);
    }
    const double offset_m = gait_m - channels_[i].rest_m;
    const double wanted_m = channels_[i].rest_m + motion.ratio * offset_m;
    AppendPosition(i, wanted_m, block);
    const double limit = rate_limit_m_per_s_[i];
    block->add_leg_rate_m_per_s(
        std::clamp(motion.ratio * gait_m_per_s + motion.rate_per_s * offset_m, -limit, limit));
    AppendVoltage(i, gait_v, motion.ratio, block);
  }
}

// The limit holds whatever the gaits and commands are.
void SessionSampler::AppendPosition(std::size_t index, double wanted_m, v1::SetpointBlock* block) {
  const double reach_m = rate_limit_m_per_s_[index] / options_.sample_rate_hz;
  const double last_m = last_position_m_[index];
  double position_m = wanted_m;
  if (std::abs(wanted_m - last_m) > reach_m * (1.0 + kRounding)) {
    position_m = last_m + std::copysign(reach_m, wanted_m - last_m);
    ++held_back_count_;
  }
  last_position_m_[index] = position_m;
  block->add_leg_position_m(position_m);
}

void SessionSampler::AppendVoltage(std::size_t index,
                                   double gait_v,
                                   double motion_ratio,
                                   v1::SetpointBlock* block) {
  std::optional<VoltageLimiter>& limiter = channels_[index].limiter;
  if (!limiter.has_value()) {
    block->add_voltage_v(0.0);
    return;
  }
  const double rest_v = limiter->rest_v();
  block->add_voltage_v(limiter->Next(rest_v + motion_ratio * (gait_v - rest_v)));
}

// While ramping the planned body stands where the gait takes it over or leaves it.
void SessionSampler::AppendBody(bool is_ramping, double share_ratio, v1::SetpointBlock* block) {
  const CurvePoint& here = voice_.point;
  const CurvePoint& next = next_voice_.has_value() ? next_voice_->point : here;
  const auto mixed = [&](double a, double b) { return a + share_ratio * (b - a); };
  if (!is_ramping) {
    for (std::size_t i = 0; i < 3; ++i) {
      body_attitude_rad_[i] = mixed(here.body_attitude_rad[i], next.body_attitude_rad[i]);
      body_position_m_[i] = mixed(here.body_position_m[i], next.body_position_m[i]);
    }
    BodyStep step;
    if (was_moving_) {
      step =
          Mix(voice_.step, next_voice_.has_value() ? next_voice_->step : BodyStep(), share_ratio);
    }
    const bool is_straight =
        !was_moving_ ||
        (GaitOf(voice_).curve.motion().is_straight() &&
         (!next_voice_.has_value() || GaitOf(*next_voice_).curve.motion().is_straight()));
    way_.Move(step, {0.0, body_position_m_[1], body_attitude_rad_[2]}, is_straight);
    body_position_m_[0] = way_.pose().x;
    body_position_m_[1] = way_.pose().y;
    body_attitude_rad_[2] = way_.pose().heading;
  }
  was_moving_ = !is_ramping;
  const bool has_phase = !is_ramping && (!next_voice_.has_value() || IsMatched());
  block->add_phase_ratio(has_phase ? std::clamp(voice_.phase_ratio, 0.0, 1.0) : -1.0);
  for (std::size_t i = 0; i < 3; ++i) {
    block->add_body_position_m(body_position_m_[i]);
    block->add_body_attitude_rad(body_attitude_rad_[i]);
  }
  for (const std::int32_t contact : (share_ratio < 0.5 ? here : next).contact) {
    block->add_contact(contact);
  }
}

}  // namespace gaitshelf::service
