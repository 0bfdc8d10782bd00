#include "service/playback/lead_keeper.h"

#include <algorithm>
#include <chrono>
#include <cstdint>

#include <gtest/gtest.h>

namespace gaitshelf::service {
namespace {

using Clock = LeadKeeper::Clock;

Clock::time_point At(double time_s) {
  return Clock::time_point() +
         std::chrono::duration_cast<Clock::duration>(std::chrono::duration<double>(time_s));
}

constexpr LeadKeeper::Options kOptions{.sample_rate_hz = 1000.0, .lead_s = 0.25, .silence_s = 0.5};

TEST(LeadKeeperTest, WantsTheLeadAtOnceAndNoMoreUntilTheControllerPlays) {
  LeadKeeper keeper(kOptions, At(0.0));
  keeper.Start(At(0.0));
  EXPECT_EQ(keeper.WantedCount(At(0.0)), 250);
  EXPECT_EQ(keeper.WantedCount(At(0.4)), 250);
  keeper.Hear(50, At(0.4));
  EXPECT_EQ(keeper.WantedCount(At(0.4)), 300);
  EXPECT_NEAR(static_cast<double>(keeper.WantedCount(At(0.43))), 330, 1);
}

TEST(LeadKeeperTest, GuessesNoFurtherThanASilenceCanLast) {
  LeadKeeper keeper(kOptions, At(0.0));
  keeper.Start(At(0.0));
  keeper.Hear(100, At(1.0));
  EXPECT_NEAR(static_cast<double>(keeper.WantedCount(At(9.0))), 100 + 300 + 250, 1);
}

// A controller whose clock is off by 2 % for ten minutes, heard every 50 ms: its buffer stays as it
// was, because its own count is what counts.
TEST(LeadKeeperTest, FollowsAClockThatDrifts) {
  for (const double drift : {0.98, 1.02}) {
    LeadKeeper keeper(kOptions, At(0.0));
    keeper.Start(At(0.0));
    std::int64_t sent = 250;
    std::int64_t least = sent;
    std::int64_t greatest = 0;
    for (int tick = 1; tick <= 60000; ++tick) {
      const double time_s = 0.01 * tick;
      const auto played = static_cast<std::int64_t>(1000.0 * drift * time_s);
      if (tick % 5 == 0) {
        keeper.Hear(played, At(time_s));
      }
      least = std::min(least, sent - played);
      sent = std::max(sent, keeper.WantedCount(At(time_s)));
      greatest = std::max(greatest, sent - played);
    }
    // Between messages the guess is off by 2 % of 50 ms: 1 sample; 20 until the first one is heard.
    EXPECT_GE(least, 250 - 52) << drift;
    EXPECT_LE(greatest, 253) << drift;
  }
}

TEST(LeadKeeperTest, IsSilentWithoutMessagesAndWithoutMotion) {
  LeadKeeper keeper(kOptions, At(0.0));
  EXPECT_FALSE(keeper.IsSilent(At(0.5)));
  EXPECT_TRUE(keeper.IsSilent(At(0.51)));
  for (int i = 1; i <= 100; ++i) {
    keeper.Hear(0, At(0.1 * i));
    EXPECT_FALSE(keeper.IsSilent(At(0.1 * i))) << "armed and heard, not started";
  }
  keeper.Start(At(10.0));
  keeper.Hear(7, At(10.3));
  EXPECT_FALSE(keeper.IsSilent(At(10.75)));
  keeper.Hear(7, At(10.75));
  EXPECT_TRUE(keeper.IsSilent(At(10.81))) << "heard, but it takes no samples";
  EXPECT_EQ(keeper.played_count(), 7);
}

}  // namespace
}  // namespace gaitshelf::service
