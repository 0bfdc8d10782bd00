#include "clients/controller/read_block.h"

#include <algorithm>
#include <cmath>

#include <google/protobuf/repeated_field.h>

#include "absl/strings/str_cat.h"

namespace gaitshelf::client {
namespace {

using Doubles = google::protobuf::RepeatedField<double>;

void Copy(const Doubles& from, std::size_t first, std::size_t count, PerChannel<double>* to) {
  std::copy_n(from.begin() + static_cast<std::ptrdiff_t>(first), count, to->begin());
}

}  // namespace

absl::StatusOr<Limits> ReadLimits(const v1::SessionLimits& message) {
  Limits limits;
  limits.channel_count = static_cast<std::size_t>(message.rest_position_m_size());
  limits.sample_rate_hz = message.sample_rate_hz();
  if (limits.channel_count > kMostChannels) {
    return absl::ResourceExhaustedError(
        absl::StrCat("the robot has ",
                     limits.channel_count,
                     " leg coordinates; this program was built for ",
                     kMostChannels));
  }
  limits.lead_s = message.lead_s();
  if (!(limits.sample_rate_hz > 0.0)) {
    return absl::DataLossError("the server states no sample rate");
  }
  // 10 s: far more than any server sends ahead, and small enough for a buffer.
  if (!(limits.lead_s > 0.0 && limits.lead_s <= 10.0)) {
    return absl::DataLossError(
        absl::StrCat("the server states a lead of ", limits.lead_s, " s; expected 0 to 10 s"));
  }
  struct Field {
    const Doubles& from;
    PerChannel<double>* to;
  };
  for (const Field& field : {Field{message.rest_position_m(), &limits.rest_position_m},
                             Field{message.leg_rate_m_per_s(), &limits.leg_rate_m_per_s},
                             Field{message.rest_voltage_v(), &limits.rest_voltage_v},
                             Field{message.min_voltage_v(), &limits.min_voltage_v},
                             Field{message.max_voltage_v(), &limits.max_voltage_v},
                             Field{message.slew_v_per_s(), &limits.slew_v_per_s}}) {
    const bool is_sound = static_cast<std::size_t>(field.from.size()) == limits.channel_count &&
                          std::all_of(field.from.begin(), field.from.end(), [](double value) {
                            return std::isfinite(value);
                          });
    if (!is_sound) {
      return absl::DataLossError("the limits that the server states do not belong together");
    }
    Copy(field.from, 0, limits.channel_count, field.to);
  }
  for (std::size_t i = 0; i < limits.channel_count; ++i) {
    if (limits.leg_rate_m_per_s[i] < 0.0 || limits.slew_v_per_s[i] < 0.0 ||
        limits.min_voltage_v[i] > limits.max_voltage_v[i]) {
      return absl::DataLossError("the limits that the server states contradict each other");
    }
  }
  return limits;
}

absl::Status CheckBlock(const v1::SetpointBlock& block,
                        const Limits& limits,
                        std::int64_t expected_number) {
  const int count = block.sample_count();
  const int wide = count * static_cast<int>(limits.channel_count);
  if (count < 0 || block.first_sample() != expected_number) {
    return absl::DataLossError(absl::StrCat("samples are missing: ",
                                            expected_number,
                                            " should come next, ",
                                            block.first_sample(),
                                            " came"));
  }
  if (block.phase_ratio_size() != count || block.leg_position_m_size() != wide ||
      block.leg_rate_m_per_s_size() != wide || block.voltage_v_size() != wide ||
      (count > 0 && block.contact_size() % count != 0)) {
    return absl::DataLossError("a block of samples does not hold what it says");
  }
  return absl::OkStatus();
}

Setpoint ReadSetpoint(const v1::SetpointBlock& block, const Limits& limits, int index) {
  const auto row = static_cast<std::size_t>(index);
  Setpoint setpoint;
  setpoint.number = block.first_sample() + index;
  setpoint.phase_ratio = block.phase_ratio(index);
  const std::size_t width = limits.channel_count;
  Copy(block.leg_position_m(), row * width, width, &setpoint.position_m);
  Copy(block.leg_rate_m_per_s(), row * width, width, &setpoint.rate_m_per_s);
  Copy(block.voltage_v(), row * width, width, &setpoint.voltage_v);
  const int feet = block.contact_size() / block.sample_count();
  for (int foot = 0; foot < std::min(feet, 32); ++foot) {
    setpoint.contact_bits |= block.contact(index * feet + foot) != 0 ? 1U << foot : 0U;
  }
  return setpoint;
}

}  // namespace gaitshelf::client
