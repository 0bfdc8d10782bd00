// What a control loop takes each period: plain data of a fixed size, so that nothing is allocated.
#ifndef GAITSHELF_CLIENTS_CONTROLLER_SETPOINT_H_
#define GAITSHELF_CLIENTS_CONTROLLER_SETPOINT_H_

#include <array>
#include <cstddef>
#include <cstdint>

namespace gaitshelf::client {

// Lift and swing of 16 legs.
inline constexpr std::size_t kMostChannels = 32;

template <typename Value>
using PerChannel = std::array<Value, kMostChannels>;

// One sample. Channels are lift and swing of each leg, in the order of the gait; those beyond the
// robot's are 0.
struct Setpoint {
  std::int64_t number = 0;    // of the session's samples, from 0
  double phase_ratio = -1.0;  // of the gait, 0 to 1; -1 where there is none
  PerChannel<double> position_m{};
  PerChannel<double> rate_m_per_s{};
  PerChannel<double> voltage_v{};
  std::uint32_t contact_bits = 0;  // bit i: foot i is planned to stand
  bool is_last = false;            // of the session: at rest
};

// What no setpoint leaves, per channel.
struct Limits {
  std::size_t channel_count = 0;
  PerChannel<double> rest_position_m{};
  PerChannel<double> leg_rate_m_per_s{};
  PerChannel<double> rest_voltage_v{};
  PerChannel<double> min_voltage_v{};
  PerChannel<double> max_voltage_v{};
  PerChannel<double> slew_v_per_s{};
  double sample_rate_hz = 0.0;
  double lead_s = 0.0;  // how far ahead of the loop the server sends
};

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CONTROLLER_SETPOINT_H_
