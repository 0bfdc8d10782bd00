// Covers service/playback/drive_channel.cc
#include "service/playback/session_sampler.h"

#include <cmath>
#include <random>
#include <string>
#include <utility>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/service/playback/samples.h"
#include "tests/support/gaits.h"
#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

using test::HasStatus;
using test::IsOk;
using testing::ElementsAre;
using testing::HasSubstr;

constexpr char kSlow[] = "g-slow";
constexpr char kQuick[] = "g-quick";
constexpr char kHop[] = "g-hop";

v1::Gait Named(v1::Gait gait, const std::string& name) {
  gait.set_name(name);
  return gait;
}

// Long strides at 3 Hz, short ones at 28 Hz in another shape, and a hop.
std::vector<PlayableGait> MakeGaits(const v1::Robot& robot) {
  std::vector<PlayableGait> gaits;
  for (const v1::Gait& gait :
       {Named(test::MakeSineGait(robot, {.frequency_hz = 3.0, .amplitude_m = 0.004}), kSlow),
        Named(
            test::MakeSineGait(
                robot,
                {.frequency_hz = 28.0, .harmonic = 2, .amplitude_m = 0.0005, .amplitude_v = 90.0}),
            kQuick),
        Named(test::MakeHop(robot, 41, 0.002), kHop)}) {
    gaits.push_back(MakePlayable(gait, robot).value());
  }
  return gaits;
}

class SessionSamplerTest : public testing::Test {
 protected:
  void Play(double seconds) {
    sampler_.Append(
        static_cast<int>(std::lround(seconds * sampler_.sample_rate_hz())), &all_, &changes_);
  }
  void PlayToTheEnd() {
    sampler_.Stop();
    Play(1.0);
    EXPECT_TRUE(sampler_.is_finished());
  }
  std::vector<std::string> StateNames() const {
    std::vector<std::string> names;
    for (const v1::StateChange& change : changes_) {
      names.push_back(v1::SessionState_Name(change.state()).substr(14) + " " + change.gait());
    }
    return names;
  }

  v1::Robot robot_ = test::MakeQuadruped();
  SessionSampler sampler_ = SessionSampler::Create(MakeGaits(robot_), robot_, {}).value();
  v1::SetpointBlock all_;
  std::vector<v1::StateChange> changes_;
};

TEST_F(SessionSamplerTest, GivesNoSampleBeforeItsStartAndNoneAfterItsEnd) {
  Play(1.0);
  EXPECT_EQ(all_.sample_count(), 0);
  sampler_.Start();
  Play(2.0);
  PlayToTheEnd();
  EXPECT_EQ(all_.sample_count(), 2501);
  ASSERT_THAT(StateNames(),
              ElementsAre("RISING g-slow", "PLAYING g-slow", "LOWERING g-slow", "RESTED g-slow"));
  EXPECT_EQ(changes_[1].first_sample(), 500);
  EXPECT_EQ(changes_[2].first_sample(), 2000);
  EXPECT_EQ(changes_[3].first_sample(), 2500);
  Play(1.0);
  EXPECT_EQ(all_.sample_count(), 2501);
}

TEST_F(SessionSamplerTest, SwitchesAtTheAskedPhaseWithoutAJump) {
  sampler_.Start();
  Play(1.1);
  ASSERT_THAT(sampler_.SwitchTo(1, 0.25), IsOk());
  Play(2.0);
  PlayToTheEnd();
  ASSERT_EQ(changes_.size(), 6);
  EXPECT_EQ(StateNames()[2], "SWITCHING g-quick");
  EXPECT_EQ(StateNames()[3], "PLAYING g-quick");
  const auto begin = static_cast<int>(changes_[2].first_sample());
  // 3 Hz at 1 kHz: a sample is 0.003 of a cycle.
  EXPECT_NEAR(all_.phase_ratio(begin), 0.25, 0.003);
  EXPECT_GT(begin, 1100);
  EXPECT_LE(begin, 1100 + 334);
  test::ExpectWithinLimits(all_, sampler_.Limits());
  test::ExpectPhaseWithoutJump(all_, 28.0);
  EXPECT_EQ(sampler_.held_back_count(), 0);
}

TEST_F(SessionSamplerTest, ReportedRatesAreThoseOfThePositions) {
  sampler_.Start();
  Play(1.0);
  ASSERT_THAT(sampler_.SwitchTo(1, std::nullopt), IsOk());
  sampler_.SetPace(0.5);
  Play(2.0);
  PlayToTheEnd();
  double greatest = 0.0;
  const v1::SessionLimits limits = sampler_.Limits();
  for (const double rate : limits.leg_rate_m_per_s()) {
    greatest = std::max(greatest, rate);
  }
  for (int i = 8; i < all_.leg_position_m_size(); ++i) {
    const double mean = 0.5 * (all_.leg_rate_m_per_s(i) + all_.leg_rate_m_per_s(i - 8));
    // Trapezium over 1 ms at 56 Hz: w^2 h^2 / 12 is 1 % of the rate.
    EXPECT_NEAR(
        (all_.leg_position_m(i) - all_.leg_position_m(i - 8)) / 0.001, mean, 0.015 * greatest);
  }
}

TEST_F(SessionSamplerTest, LastSwitchThatWasAskedForIsTheOneThatBegins) {
  sampler_.Start();
  Play(1.0);
  ASSERT_THAT(sampler_.SwitchTo(2, std::nullopt), IsOk());
  ASSERT_THAT(sampler_.SwitchTo(1, std::nullopt), IsOk());
  Play(1.6);
  EXPECT_EQ(StateNames().back(), "PLAYING g-quick");
  ASSERT_THAT(sampler_.SwitchTo(0, 0.5), IsOk());
  ASSERT_THAT(sampler_.SwitchTo(1, std::nullopt), IsOk());  // takes it back
  Play(1.0);
  EXPECT_EQ(StateNames().back(), "PLAYING g-quick");
  EXPECT_EQ(changes_.size(), 4);
}

TEST_F(SessionSamplerTest, GoesThroughAHopAndOnFromWhereItEnds) {
  sampler_.Start();
  Play(1.0);
  ASSERT_THAT(sampler_.SwitchTo(2, std::nullopt), IsOk());
  Play(0.5);
  ASSERT_THAT(sampler_.SwitchTo(0, std::nullopt), IsOk());
  Play(3.0);
  PlayToTheEnd();
  ASSERT_THAT(StateNames(),
              ElementsAre("RISING g-slow",
                          "PLAYING g-slow",
                          "SWITCHING g-hop",
                          "PLAYING g-hop",
                          "SWITCHING g-slow",
                          "PLAYING g-slow",
                          "LOWERING g-slow",
                          "RESTED g-slow"));
  const auto hop = static_cast<int>(changes_[3].first_sample());
  EXPECT_NEAR(all_.leg_position_m(8 * hop), 0.0, 1e-6) << "starts at its first knot";
  const auto onward = static_cast<int>(changes_[4].first_sample());
  EXPECT_NEAR(all_.leg_position_m(8 * onward), 0.002, 1e-9) << "only left once it has landed";
  EXPECT_NEAR(all_.phase_ratio(onward - 1), 1.0, 0.02);
  EXPECT_EQ(all_.phase_ratio(onward + 1), -1.0);
  test::ExpectWithinLimits(all_, sampler_.Limits());
}

TEST_F(SessionSamplerTest, PaceSlowsThePhaseGently) {
  sampler_.Start();
  Play(1.0);
  sampler_.SetPace(0.25);
  Play(2.0);
  // 3 Hz at a quarter pace.
  const int last = all_.sample_count() - 1;
  EXPECT_NEAR(all_.phase_ratio(last) - all_.phase_ratio(last - 100), 0.075, 1e-9);
  for (int i = 501; i < last; ++i) {
    const double now = test::PhaseStep(all_, i + 1);
    const double before = test::PhaseStep(all_, i);
    // 2 a second at 3 Hz: 6e-6 of a cycle in the square of a millisecond.
    EXPECT_LE(std::abs(now - before), 6.1e-6);
  }
}

TEST_F(SessionSamplerTest, SampleRateChangesWithoutAJumpInTimeOrMotion) {
  sampler_.Start();
  Play(1.0);
  ASSERT_THAT(sampler_.SetSampleRate(5000.0), IsOk());
  v1::SetpointBlock next;
  sampler_.Append(100, &next, nullptr);
  EXPECT_EQ(next.first_sample(), 1000);
  EXPECT_DOUBLE_EQ(next.first_sample_time_s(), 1.0);
  EXPECT_DOUBLE_EQ(next.sample_period_s(), 0.0002);
  const int last = all_.sample_count() - 1;
  EXPECT_NEAR(next.phase_ratio(0) - all_.phase_ratio(last), 0.003, 1e-9);
  EXPECT_NEAR(next.phase_ratio(1) - next.phase_ratio(0), 0.0006, 1e-9);
  for (int i = 8; i < next.voltage_v_size(); ++i) {
    EXPECT_LE(std::abs(next.voltage_v(i) - next.voltage_v(i - 8)), 2e5 * 0.0002);
  }
  EXPECT_EQ(sampler_.Limits().sample_rate_hz(), 5000.0);
}

TEST_F(SessionSamplerTest, StopsFromAnywhereWithinARamp) {
  for (const double after_s : {0.0, 0.1, 0.33, 0.5, 1.0, 1.7}) {
    SessionSampler sampler = SessionSampler::Create(MakeGaits(robot_), robot_, {}).value();
    sampler.Start();
    v1::SetpointBlock all;
    const int before = static_cast<int>(std::lround(1000.0 * after_s));
    sampler.Append(std::min(before, 900), &all, nullptr);
    ASSERT_THAT(sampler.SwitchTo(1, std::nullopt), IsOk());
    sampler.Append(before - std::min(before, 900), &all, nullptr);
    sampler.Stop();
    EXPECT_THAT(sampler.SwitchTo(0, std::nullopt),
                HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("way to rest")));
    sampler.Append(1000, &all, nullptr);
    EXPECT_TRUE(sampler.is_finished());
    EXPECT_LE(all.sample_count(), before + 501);
    test::ExpectWithinLimits(all, sampler.Limits());
    test::ExpectAtRest(all, sampler.Limits());
  }
}

TEST_F(SessionSamplerTest, BodyGoesOnAcrossASwitch) {
  sampler_.Start();
  Play(1.0);
  ASSERT_THAT(sampler_.SwitchTo(1, std::nullopt), IsOk());
  Play(2.0);
  PlayToTheEnd();
  double way_m = 0.0;
  for (int i = 3; i < all_.body_position_m_size(); i += 3) {
    const double step_m = all_.body_position_m(i) - all_.body_position_m(i - 3);
    EXPECT_GE(step_m, -1e-12);
    // 8 mm a cycle at 28 Hz, and what the cubic of a line with a jump at its seam adds.
    EXPECT_LE(step_m, 1.2 * 0.008 * 28.0 * 0.001);
    way_m += step_m;
  }
  EXPECT_GT(way_m, 0.008 * 3.0 * 0.5 + 0.008 * 28.0 * 0.5);
}

TEST_F(SessionSamplerTest, RefusesGaitsOfUnlikeFeet) {
  std::vector<PlayableGait> gaits = MakeGaits(robot_);
  gaits[1].foot_names[0] = "other";
  EXPECT_THAT(SessionSampler::Create(std::move(gaits), robot_, {}).status(),
              HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("legs and feet")));
}

// Commands to switch, at random times, among gaits of 3 and 28 Hz and a hop, until a thousand
// switches have begun, and new paces between them. Nothing may ever leave its limits, and nothing
// may have to be held back for that.
TEST_F(SessionSamplerTest, StormOfSwitchesStaysWithinLimits) {
  std::mt19937 random(6);
  std::uniform_int_distribution<int> any_gait(0, 2);
  std::uniform_real_distribution<double> any_phase(0.0, 0.999);
  std::uniform_real_distribution<double> any_wait_s(0.002, 0.4);
  std::uniform_real_distribution<double> any_pace(0.05, 1.0);
  sampler_.Start();
  int switch_count = 0;
  test::LimitWatch watch(sampler_.Limits());
  for (int i = 0; switch_count < 1000; ++i) {
    ASSERT_LT(i, 20000);
    const bool is_given = i % 2 == 0;
    ASSERT_THAT(
        sampler_.SwitchTo(any_gait(random),
                          is_given ? std::optional<double>(any_phase(random)) : std::nullopt),
        IsOk());
    if (i % 5 == 0) {
      sampler_.SetPace(any_pace(random));
    }
    v1::SetpointBlock block;
    changes_.clear();
    sampler_.Append(static_cast<int>(std::lround(any_wait_s(random) * sampler_.sample_rate_hz())),
                    &block,
                    &changes_);
    watch.Check(block);
    for (const v1::StateChange& change : changes_) {
      switch_count += change.state() == v1::SESSION_STATE_SWITCHING ? 1 : 0;
    }
  }
  EXPECT_EQ(sampler_.held_back_count(), 0);
  sampler_.Stop();
  v1::SetpointBlock last;
  sampler_.Append(2000, &last, nullptr);
  watch.Check(last);
  EXPECT_TRUE(sampler_.is_finished());
  test::ExpectAtRest(last, sampler_.Limits());
}

// A turning gait carries the body along its arc through many cycles and over a switch to a straight
// one, whose way then goes along the new heading.
TEST_F(SessionSamplerTest, BodyGoesOnAlongTheHeadingThatATurnHasLeft) {
  v1::Gait turning = Named(test::MakeSineGait(robot_, {.frequency_hz = 10.0}), "g-turn");
  turning.set_turn_rad(0.1);
  const solver::PlanarMotion motion = {0.008, 0.0, 0.1};
  for (int knot = 0; knot < turning.knot_count(); ++knot) {
    const solver::PlanarPose pose =
        motion.Times(static_cast<double>(knot) / turning.knot_count()).End();
    turning.set_body_position_m(3 * knot, pose.x);
    turning.set_body_position_m(3 * knot + 1, pose.y);
    turning.set_body_attitude_rad(3 * knot + 2, pose.heading);
  }
  std::vector<PlayableGait> gaits;
  gaits.push_back(MakePlayable(turning, robot_).value());
  gaits.push_back(
      MakePlayable(Named(test::MakeSineGait(robot_, {.frequency_hz = 10.0}), kSlow), robot_)
          .value());
  sampler_ = SessionSampler::Create(std::move(gaits), robot_, {}).value();
  sampler_.Start();
  Play(0.5 + 2.0);
  ASSERT_THAT(sampler_.SwitchTo(1, std::nullopt), IsOk());
  Play(2.0);
  const auto pose = [&](int sample) {
    return solver::PlanarPose{all_.body_position_m(3 * sample),
                              all_.body_position_m(3 * sample + 1),
                              all_.body_attitude_rad(3 * sample + 2)};
  };
  const int last = all_.sample_count() - 1;
  for (int sample = 1; sample <= last; ++sample) {
    const solver::PlanarPose step = pose(sample - 1).Inverse().Then(pose(sample));
    // 80 mm/s at 1 kHz, always ahead; 1 mrad a sample at most.
    EXPECT_NEAR(step.x, sample <= 500 ? step.x : 8e-5, 2e-6) << sample;
    EXPECT_LT(std::abs(step.y), 1e-6) << sample;
    EXPECT_LT(std::abs(step.heading), 1.1e-3) << sample;
  }
  EXPECT_NEAR(pose(2500).heading - pose(600).heading, 1.9, 1e-3);
  EXPECT_NEAR(pose(last).heading, pose(last - 500).heading, 1e-9);
}

}  // namespace
}  // namespace gaitshelf::service
