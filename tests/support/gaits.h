// Gaits that tests build in code: smooth trajectories with known content. They are no solutions of
// any plan; the figures are invented.
#ifndef GAITSHELF_TESTS_SUPPORT_GAITS_H_
#define GAITSHELF_TESTS_SUPPORT_GAITS_H_

#include <cmath>
#include <numbers>
#include <string>

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/robot.pb.h"

namespace gaitshelf::test {

// Fills a gait whose coordinates are sines of one harmonic about 0 and whose voltages are sines
// about 100 V; feet stand in the first half of the cycle.
struct SineGait {
  int knot_count = 40;
  double frequency_hz = 10.0;
  int harmonic = 1;
  double amplitude_m = 0.001;
  double amplitude_v = 50.0;
  double advance_m = 0.008;
};

inline v1::Gait MakeSineGait(const v1::Robot& robot, const SineGait& sine) {
  v1::Gait gait;
  gait.set_name("g-00000000000000000000000000000001");
  gait.set_robot(robot.name());
  gait.set_surface("bench");
  gait.set_stride_frequency_hz(sine.frequency_hz);
  gait.mutable_task()->mutable_advance()->set_advance_m(sine.advance_m);
  gait.set_is_periodic(true);
  gait.set_knot_count(sine.knot_count);
  gait.set_knot_period_s(1.0 / (sine.frequency_hz * sine.knot_count));
  gait.set_advance_m(sine.advance_m);
  for (const v1::Leg& leg : robot.legs()) {
    gait.add_leg_names(leg.name());
    gait.add_foot_names(leg.name());
  }
  for (int knot = 0; knot < sine.knot_count; ++knot) {
    const double phase = static_cast<double>(knot) / sine.knot_count;
    gait.add_body_position_m(sine.advance_m * phase);
    gait.add_body_position_m(0.0);
    gait.add_body_position_m(0.011);
    for (int axis = 0; axis < 3; ++axis) {
      gait.add_body_attitude_rad(0.0);
    }
    for (int i = 0; i < 2 * robot.legs_size(); ++i) {
      const double angle = 2.0 * std::numbers::pi * (sine.harmonic * phase + 0.1 * i);
      gait.add_leg_position_m(sine.amplitude_m * std::sin(angle));
      gait.add_voltage_v(100.0 + sine.amplitude_v * std::sin(angle));
    }
    for (int foot = 0; foot < robot.legs_size(); ++foot) {
      const bool stands = knot < sine.knot_count / 2;
      gait.add_foot_force_n(0.0);
      gait.add_foot_force_n(0.0);
      gait.add_foot_force_n(stands ? 0.01 : 1e-9);
      gait.add_foot_gap_m(stands ? 0.0 : 0.001);
    }
  }
  gait.mutable_audit()->set_verdict(v1::VERDICT_GOOD);
  return gait;
}

// A hop: the coordinates go from 0 to the amplitude by half a cosine and stay.
inline v1::Gait MakeHop(const v1::Robot& robot, int knot_count, double amplitude_m) {
  v1::Gait gait = MakeSineGait(robot, {.knot_count = knot_count, .frequency_hz = 10.0});
  gait.set_name("g-00000000000000000000000000000002");
  gait.set_is_periodic(false);
  gait.set_stride_frequency_hz(0.0);
  gait.set_advance_m(0.0);
  gait.mutable_task()->mutable_hop()->set_rise_m(0.005);
  const int width = 2 * robot.legs_size();
  for (int knot = 0; knot < knot_count; ++knot) {
    const double angle = std::numbers::pi * knot / (knot_count - 1);
    gait.set_body_position_m(3 * knot, 0.0);
    for (int i = 0; i < width; ++i) {
      gait.set_leg_position_m(knot * width + i, amplitude_m * 0.5 * (1.0 - std::cos(angle)));
    }
  }
  return gait;
}

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SUPPORT_GAITS_H_
