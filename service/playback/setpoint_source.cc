#include "service/playback/setpoint_source.h"

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

// Longest time that a drive may need across its range. Slower ones could keep a stream from ending.
constexpr double kLongestSweep_s = 30.0;

absl::Status CheckDrive(const v1::Bimorph& bimorph,
                        const std::string& what,
                        const SetpointOptions& options) {
  const double sweep_s = (bimorph.max_v() - bimorph.min_v()) / bimorph.slew_v_per_s();
  if (!(sweep_s <= kLongestSweep_s)) {
    return absl::FailedPreconditionError(
        absl::StrCat(what,
                     ": the drive needs ",
                     sweep_s,
                     " s across its range; playback allows at most ",
                     kLongestSweep_s,
                     " s; check slew_v_per_s of the robot"));
  }
  const VoltageLimiter limiter(bimorph, 1.0 / options.sample_rate_hz, options.drive_bits);
  if (!limiter.can_move()) {
    return absl::FailedPreconditionError(
        absl::StrCat(what,
                     ": one step of a ",
                     options.drive_bits,
                     "-bit converter is more than slew_v_per_s = ",
                     bimorph.slew_v_per_s(),
                     " allows in a sample; ask for more drive_bits or a lower sample_rate_hz"));
  }
  return absl::OkStatus();
}

// Bimorph of a coordinate, null when it is passive, with the path of its description.
const v1::Bimorph* BimorphOf(const v1::Robot& robot, int index, std::string* path) {
  const v1::Leg& leg = robot.legs(index / 2);
  const bool is_lift = index % 2 == 0;
  *path = absl::StrCat("legs[",
                       index / 2,
                       leg.has_linkage() ? "].linkage." : "].lumped.",
                       is_lift ? "lift" : "swing");
  if (leg.has_linkage()) {
    const v1::LinkageCoordinate& coordinate =
        is_lift ? leg.linkage().lift() : leg.linkage().swing();
    return coordinate.has_drive() ? &coordinate.drive().bimorph() : nullptr;
  }
  const v1::LegCoordinate& coordinate = is_lift ? leg.lumped().lift() : leg.lumped().swing();
  return coordinate.has_bimorph() ? &coordinate.bimorph() : nullptr;
}

// Where a coordinate rests: at 0, or at the end of its travel nearest to 0. The travel of a linkage
// leg holds 0.
double RestPosition(const v1::Robot& robot, int index) {
  const v1::Leg& leg = robot.legs(index / 2);
  if (leg.has_linkage()) {
    return 0.0;
  }
  const v1::LegCoordinate& coordinate = index % 2 == 0 ? leg.lumped().lift() : leg.lumped().swing();
  return std::clamp(0.0, coordinate.min_m(), coordinate.max_m());
}

}  // namespace

SetpointSource::SetpointSource(GaitCurve curve, const SetpointOptions& options)
    : curve_(std::move(curve)), options_(options), sample_period_s_(1.0 / options.sample_rate_hz) {}

absl::StatusOr<SetpointSource> SetpointSource::Create(const v1::Gait& gait,
                                                      const v1::Robot& robot,
                                                      const SetpointOptions& options) {
  if (gait.leg_names_size() != robot.legs_size()) {
    return absl::FailedPreconditionError(absl::StrCat("gait ",
                                                      gait.name(),
                                                      " has ",
                                                      gait.leg_names_size(),
                                                      " legs, robot ",
                                                      robot.name(),
                                                      " has ",
                                                      robot.legs_size()));
  }
  GAITSHELF_ASSIGN_OR_RETURN(GaitCurve curve, GaitCurve::Create(gait));
  SetpointSource source(std::move(curve), options);
  source.leg_names_.assign(gait.leg_names().begin(), gait.leg_names().end());
  source.foot_names_.assign(gait.foot_names().begin(), gait.foot_names().end());
  for (int i = 0; i < 2 * robot.legs_size(); ++i) {
    Channel channel{.rest_m = RestPosition(robot, i), .limiter = std::nullopt};
    std::string path;
    if (const v1::Bimorph* bimorph = BimorphOf(robot, i, &path); bimorph != nullptr) {
      GAITSHELF_RETURN_IF_ERROR(CheckDrive(*bimorph, path, options));
      channel.limiter.emplace(*bimorph, source.sample_period_s_, options.drive_bits);
    }
    source.channels_.push_back(std::move(channel));
  }
  return source;
}

// Quintic from 0 to 1 with no rate and no acceleration at either end:
//   w = 10 s^3 - 15 s^4 + 6 s^5,  greatest slope 1.875 / ramp_s
SetpointSource::Blend SetpointSource::BlendAt(double time_s) const {
  const double end_s = options_.duration_s + 2.0 * options_.ramp_s;
  const bool is_rising = time_s < 0.5 * end_s;
  const double s = std::clamp((is_rising ? time_s : end_s - time_s) / options_.ramp_s, 0.0, 1.0);
  const double slope_per_s = 30.0 * s * s * (1.0 - s) * (1.0 - s) / options_.ramp_s;
  return {.ratio = s * s * s * (10.0 - 15.0 * s + 6.0 * s * s),
          .rate_per_s = is_rising ? slope_per_s : -slope_per_s};
}

v1::SetpointBlock SetpointSource::NextBlock(int sample_count) {
  v1::SetpointBlock block;
  block.set_first_sample(sample_index_);
  block.set_first_sample_time_s(static_cast<double>(sample_index_) * sample_period_s_);
  block.set_sample_period_s(sample_period_s_);
  if (sample_index_ == 0) {
    block.mutable_leg_names()->Assign(leg_names_.begin(), leg_names_.end());
    block.mutable_foot_names()->Assign(foot_names_.begin(), foot_names_.end());
  }
  int count = 0;
  while (count < sample_count && !is_finished_) {
    AppendSample(&block);
    ++count;
  }
  block.set_sample_count(count);
  return block;
}

void SetpointSource::EndEarly() {
  const double time_s = static_cast<double>(sample_index_) * sample_period_s_;
  options_.duration_s = std::clamp(time_s - options_.ramp_s, 0.0, options_.duration_s);
}

void SetpointSource::AppendSample(v1::SetpointBlock* block) {
  const double time_s = static_cast<double>(sample_index_) * sample_period_s_;
  const Blend blend = BlendAt(time_s);
  const double curve_time_s = time_s - options_.ramp_s;
  curve_.Evaluate(curve_time_s, &point_);
  AppendLegs(blend, block);
  AppendBody(curve_time_s, blend, block);
  ++sample_index_;
  // Slow drives may come to rest later than the ramp: the stream goes on until they have.
  const bool is_past_ramp = time_s >= options_.duration_s + 2.0 * options_.ramp_s;
  is_finished_ =
      is_past_ramp && std::all_of(channels_.begin(), channels_.end(), [](const Channel& channel) {
        return !channel.limiter.has_value() || channel.limiter->is_at_rest();
      });
}

void SetpointSource::AppendLegs(const Blend& blend, v1::SetpointBlock* block) {
  for (std::size_t i = 0; i < channels_.size(); ++i) {
    Channel& channel = channels_[i];
    const double offset_m = point_.leg_position_m[i] - channel.rest_m;
    block->add_leg_position_m(channel.rest_m + blend.ratio * offset_m);
    block->add_leg_rate_m_per_s(blend.ratio * point_.leg_rate_m_per_s[i] +
                                blend.rate_per_s * offset_m);
    if (!channel.limiter.has_value()) {
      block->add_voltage_v(0.0);
      continue;
    }
    const double rest_v = channel.limiter->rest_v();
    block->add_voltage_v(
        channel.limiter->Next(rest_v + blend.ratio * (point_.voltage_v[i] - rest_v)));
  }
}

void SetpointSource::AppendBody(double curve_time_s, const Blend& blend, v1::SetpointBlock* block) {
  const bool is_ramping = blend.ratio < 1.0;
  block->add_phase_ratio(is_ramping ? -1.0 : point_.phase_ratio);
  if (is_ramping) {
    curve_.Evaluate(std::clamp(curve_time_s, 0.0, options_.duration_s), &body_point_);
  }
  const CurvePoint& body = is_ramping ? body_point_ : point_;
  for (std::size_t i = 0; i < 3; ++i) {
    block->add_body_position_m(body.body_position_m[i]);
    block->add_body_attitude_rad(body.body_attitude_rad[i]);
  }
  for (const std::int32_t contact : point_.contact) {
    block->add_contact(contact);
  }
}

}  // namespace gaitshelf::service
