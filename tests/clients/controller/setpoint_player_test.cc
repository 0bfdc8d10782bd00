#include "clients/controller/setpoint_player.h"

#include <atomic>
#include <cmath>
#include <cstdlib>
#include <limits>
#include <new>

#include <gtest/gtest.h>

namespace {

thread_local long allocation_count = 0;

}  // namespace

// Counts what this thread allocates. All forms, for what one gives another takes back.
void* operator new(std::size_t size) {
  ++allocation_count;
  void* memory = std::malloc(size);
  if (memory == nullptr) {
    throw std::bad_alloc();
  }
  return memory;
}
void* operator new(std::size_t size, const std::nothrow_t& /*tag*/) noexcept {
  ++allocation_count;
  return std::malloc(size);
}
void operator delete(void* memory) noexcept { std::free(memory); }
void operator delete(void* memory, std::size_t) noexcept { std::free(memory); }

namespace gaitshelf::client {
namespace {

constexpr std::size_t kChannels = 2;

Limits MakeLimits() {
  Limits limits;
  limits.channel_count = kChannels;
  limits.sample_rate_hz = 1000.0;
  limits.rest_position_m = {0.001, 0.0};
  limits.leg_rate_m_per_s = {0.5, 0.5};
  limits.rest_voltage_v = {100.0, 0.0};
  limits.min_voltage_v = {0.0, -50.0};
  limits.max_voltage_v = {200.0, 50.0};
  limits.slew_v_per_s = {2000.0, 1000.0};
  return limits;
}

class SetpointPlayerTest : public testing::Test {
 protected:
  // Puts a setpoint that differs a little from the one before.
  void Put(bool is_last = false) {
    Setpoint setpoint;
    setpoint.number = put_++;
    setpoint.position_m[0] = 0.001 + 1e-4 * static_cast<double>(put_ % 20);
    setpoint.rate_m_per_s[0] = 0.1;
    setpoint.voltage_v[0] = 100.0 + static_cast<double>(put_ % 20);
    setpoint.is_last = is_last;
    ASSERT_TRUE(ring_.Put(setpoint));
  }

  // The next setpoint, held against the limits and the one before.
  PlayState Next() {
    const Setpoint before = now_;
    const PlayState state = player_.Next(&now_);
    if (is_begun_) {
      for (std::size_t i = 0; i < kChannels; ++i) {
        // 1e-9: the player's own allowance for rounding.
        EXPECT_LE(std::abs(now_.position_m[i] - before.position_m[i]),
                  limits_.leg_rate_m_per_s[i] * 1e-3 * (1.0 + 1e-8));
        EXPECT_LE(std::abs(now_.voltage_v[i] - before.voltage_v[i]),
                  limits_.slew_v_per_s[i] * 1e-3 * (1.0 + 1e-8));
        EXPECT_GE(now_.voltage_v[i], limits_.min_voltage_v[i]);
        EXPECT_LE(now_.voltage_v[i], limits_.max_voltage_v[i]);
      }
    }
    is_begun_ = true;
    return state;
  }

  void ExpectRest() {
    for (std::size_t i = 0; i < kChannels; ++i) {
      EXPECT_EQ(now_.position_m[i], limits_.rest_position_m[i]);
      EXPECT_EQ(now_.rate_m_per_s[i], 0.0);
      EXPECT_EQ(now_.voltage_v[i], limits_.rest_voltage_v[i]);
    }
  }

  void RunDown() {
    int periods = 0;
    while (Next() == PlayState::kRamping) {
      ASSERT_LT(++periods, 1000);
    }
    EXPECT_EQ(player_.state(), PlayState::kRested);
    EXPECT_GT(periods, 400);
    Next();
    ExpectRest();
  }

  Limits limits_ = MakeLimits();
  SetpointRing ring_{100};
  SetpointPlayer player_{&ring_, limits_, 5};
  std::int64_t put_ = 0;
  Setpoint now_;
  bool is_begun_ = false;
};

TEST_F(SetpointPlayerTest, RestsUntilTheBufferIsFilled) {
  EXPECT_EQ(Next(), PlayState::kWaiting);
  ExpectRest();
  for (int i = 0; i < 4; ++i) {
    Put();
  }
  EXPECT_EQ(Next(), PlayState::kWaiting);
  Put();
  EXPECT_EQ(Next(), PlayState::kPlaying);
  EXPECT_EQ(now_.number, 0);
  EXPECT_EQ(player_.played_count(), 1);
}

TEST_F(SetpointPlayerTest, PlaysASessionThatIsShorterThanTheFirstFill) {
  Put();
  Put(true);
  EXPECT_EQ(Next(), PlayState::kWaiting);
  player_.EndInput(true);
  EXPECT_EQ(Next(), PlayState::kPlaying);
  EXPECT_EQ(Next(), PlayState::kRested);
  EXPECT_EQ(player_.played_count(), 2);
  EXPECT_EQ(player_.underrun_count(), 0);
}

TEST_F(SetpointPlayerTest, RestsWhenTheSessionBreaksOffBeforeTheFirstFill) {
  Put();
  Put();
  EXPECT_EQ(Next(), PlayState::kWaiting);
  player_.EndInput(false);
  EXPECT_EQ(Next(), PlayState::kRested);
  ExpectRest();
  EXPECT_EQ(player_.played_count(), 0);
  EXPECT_EQ(player_.underrun_count(), 0);
}

TEST_F(SetpointPlayerTest, EndsWithTheLastSetpointOfTheSession) {
  for (int i = 0; i < 5; ++i) {
    Put(i == 4);
  }
  for (int i = 0; i < 4; ++i) {
    EXPECT_EQ(Next(), PlayState::kPlaying);
  }
  EXPECT_EQ(Next(), PlayState::kRested);
  EXPECT_EQ(Next(), PlayState::kRested);
  EXPECT_EQ(player_.underrun_count(), 0);
}

TEST_F(SetpointPlayerTest, FindsItsOwnWayToRestWhenSetpointsRunOut) {
  for (int i = 0; i < 15; ++i) {
    Put();
  }
  for (int i = 0; i < 15; ++i) {
    EXPECT_EQ(Next(), PlayState::kPlaying);
  }
  EXPECT_EQ(Next(), PlayState::kRamping);
  EXPECT_EQ(player_.underrun_count(), 1);
  EXPECT_EQ(player_.least_left_count(), 0);
  Put();  // too late
  RunDown();
  EXPECT_EQ(player_.played_count(), 15);
  EXPECT_EQ(player_.underrun_count(), 1);
}

TEST_F(SetpointPlayerTest, StaysWithinLimitsWhateverTheBufferHolds) {
  Next();
  for (int i = 0; i < 50; ++i) {
    Setpoint wild;
    wild.position_m = {i % 2 == 0 ? 1.0 : -1.0, 1e300};
    wild.rate_m_per_s = {1e9, -1e9};
    wild.voltage_v = {i % 2 == 0 ? 1e9 : -1e9, 300.0};
    ASSERT_TRUE(ring_.Put(wild));
  }
  for (int i = 0; i < 50; ++i) {
    EXPECT_EQ(Next(), PlayState::kPlaying);
  }
  EXPECT_NEAR(now_.voltage_v[1], 50.0, 1e-6);
  EXPECT_EQ(player_.held_back_count(), 50);
}

TEST_F(SetpointPlayerTest, CountsASetpointBeyondItsLimitsAndNoOther) {
  for (int i = 0; i < 6; ++i) {
    Put();
  }
  Setpoint fast;
  fast.position_m[0] = 0.001 + 6e-4 + 5.1e-4;  // 0.51 m/s where 0.5 is allowed
  fast.voltage_v[0] = 106.0;
  ASSERT_TRUE(ring_.Put(fast));
  for (int i = 0; i < 6; ++i) {
    EXPECT_EQ(Next(), PlayState::kPlaying);
    EXPECT_EQ(player_.held_back_count(), 0);
  }
  EXPECT_EQ(Next(), PlayState::kPlaying);
  EXPECT_EQ(player_.held_back_count(), 1);
  EXPECT_EQ(Next(), PlayState::kRamping);
  RunDown();  // its own way down is held to the limits, not held back
  EXPECT_EQ(player_.held_back_count(), 1);
}

TEST_F(SetpointPlayerTest, TellsHowNearTheBufferWasToRunningOut) {
  for (int i = 0; i < 9; ++i) {
    Put();
  }
  for (int i = 0; i < 6; ++i) {
    Next();
  }
  EXPECT_EQ(player_.least_left_count(), 3);
  Put();
  Put(true);
  player_.EndInput(true);
  while (Next() == PlayState::kPlaying) {
  }
  EXPECT_EQ(player_.least_left_count(), 3);  // at the end it runs empty, as it should
}

TEST_F(SetpointPlayerTest, NonsenseLeadsToRest) {
  for (int i = 0; i < 9; ++i) {
    Put();
  }
  Setpoint nonsense;
  nonsense.voltage_v[1] = std::numeric_limits<double>::quiet_NaN();
  ASSERT_TRUE(ring_.Put(nonsense));
  for (int i = 0; i < 9; ++i) {
    EXPECT_EQ(Next(), PlayState::kPlaying);
  }
  EXPECT_EQ(Next(), PlayState::kRamping);
  RunDown();
}

TEST_F(SetpointPlayerTest, RampsDownWhenTold) {
  for (int i = 0; i < 50; ++i) {
    Put();
  }
  for (int i = 0; i < 10; ++i) {
    Next();
  }
  player_.RampDown();
  EXPECT_EQ(Next(), PlayState::kRamping);
  RunDown();
}

TEST_F(SetpointPlayerTest, NeverAllocates) {
  for (int i = 0; i < 50; ++i) {
    Put();
  }
  const long before = allocation_count;
  Setpoint setpoint;
  for (int i = 0; i < 1000; ++i) {
    player_.Next(&setpoint);
  }
  EXPECT_EQ(allocation_count, before);
  EXPECT_EQ(player_.state(), PlayState::kRested);
}

}  // namespace
}  // namespace gaitshelf::client
