// What tests of playback say of samples: within the limits of their session, at rest, without a
// jump in phase.
#ifndef GAITSHELF_TESTS_SERVICE_PLAYBACK_SAMPLES_H_
#define GAITSHELF_TESTS_SERVICE_PLAYBACK_SAMPLES_H_

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

#include <gtest/gtest.h>

#include "gaitshelf/v1/playback_service.pb.h"

namespace gaitshelf::test {

// Holds every sample of successive blocks against the limits and against the one before.
class LimitWatch {
 public:
  // A session begins at rest.
  explicit LimitWatch(v1::SessionLimits limits)
      : limits_(std::move(limits)),
        position_m_(limits_.rest_position_m().begin(), limits_.rest_position_m().end()),
        voltage_v_(limits_.rest_voltage_v().begin(), limits_.rest_voltage_v().end()) {}

  void Check(const v1::SetpointBlock& block) {
    const int width = limits_.rest_position_m_size();
    const double period_s = block.sample_period_s();
    for (int i = 0; i < block.sample_count() * width; ++i) {
      const int channel = i % width;
      const auto k = static_cast<std::size_t>(channel);
      // 1e-12 m and V: rounding of differences.
      const double reach_m = limits_.leg_rate_m_per_s(channel) * period_s + 1e-12;
      ASSERT_LE(std::abs(block.leg_position_m(i) - position_m_[k]), reach_m) << "value " << i;
      ASSERT_LE(std::abs(block.leg_rate_m_per_s(i)), limits_.leg_rate_m_per_s(channel) + 1e-12);
      ASSERT_LE(std::abs(block.voltage_v(i) - voltage_v_[k]),
                limits_.slew_v_per_s(channel) * period_s + 1e-12);
      ASSERT_GE(block.voltage_v(i), limits_.min_voltage_v(channel));
      ASSERT_LE(block.voltage_v(i), limits_.max_voltage_v(channel));
      position_m_[k] = block.leg_position_m(i);
      voltage_v_[k] = block.voltage_v(i);
    }
  }

 private:
  v1::SessionLimits limits_;
  std::vector<double> position_m_;
  std::vector<double> voltage_v_;
};

inline void ExpectWithinLimits(const v1::SetpointBlock& block, const v1::SessionLimits& limits) {
  LimitWatch(limits).Check(block);
}

inline void ExpectAtRest(const v1::SetpointBlock& block, const v1::SessionLimits& limits) {
  const int width = limits.rest_position_m_size();
  ASSERT_GT(block.sample_count(), 0);
  const int first = (block.sample_count() - 1) * width;
  for (int i = 0; i < width; ++i) {
    EXPECT_EQ(block.leg_position_m(first + i), limits.rest_position_m(i));
    EXPECT_EQ(block.leg_rate_m_per_s(first + i), 0.0);
    EXPECT_EQ(block.voltage_v(first + i), limits.rest_voltage_v(i));
  }
}

// How far the phase goes from the sample before, across the end of a cycle as well.
inline double PhaseStep(const v1::SetpointBlock& block, int sample) {
  const double step = block.phase_ratio(sample) - block.phase_ratio(sample - 1);
  return step < -0.5 ? step + 1.0 : step;
}

// Where there is a phase it only goes on, and never faster than the frequency.
inline void ExpectPhaseWithoutJump(const v1::SetpointBlock& block, double frequency_hz) {
  for (int i = 1; i < block.sample_count(); ++i) {
    if (block.phase_ratio(i) >= 0.0 && block.phase_ratio(i - 1) >= 0.0) {
      EXPECT_GE(PhaseStep(block, i), 0.0);
      EXPECT_LE(PhaseStep(block, i), frequency_hz * block.sample_period_s() * (1.0 + 1e-9));
    }
  }
}

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SERVICE_PLAYBACK_SAMPLES_H_
