#include "service/jobs/round_thread.h"

#include <atomic>
#include <chrono>
#include <functional>
#include <thread>

#include <gtest/gtest.h>

namespace gaitshelf::service {
namespace {

bool Await(const std::function<bool()>& is_true) {
  for (int i = 0; i < 1000 && !is_true(); ++i) {
    std::this_thread::sleep_for(std::chrono::milliseconds(5));
  }
  return is_true();
}

TEST(RoundThreadTest, GoesRoundAndRoundAndEndsOnce) {
  std::atomic<int> rounds = 0;
  std::atomic<int> ends = 0;
  {
    RoundThread thread(
        0.001, [&] { ++rounds; }, [&] { ++ends; });
    EXPECT_TRUE(Await([&] { return rounds >= 3; }));
    EXPECT_EQ(ends, 0);
    thread.Stop();
    EXPECT_EQ(ends, 1);
    const int last = rounds;
    thread.Wake();
    std::this_thread::sleep_for(std::chrono::milliseconds(20));
    EXPECT_EQ(rounds, last);
  }
  EXPECT_EQ(ends, 1);
}

TEST(RoundThreadTest, DoesNotWaitForThePeriodWhenItIsWoken) {
  std::atomic<int> rounds = 0;
  RoundThread thread(3600, [&] { ++rounds; }, {});
  EXPECT_TRUE(Await([&] { return rounds == 1; }));
  thread.Wake();
  EXPECT_TRUE(Await([&] { return rounds == 2; }));
}

}  // namespace
}  // namespace gaitshelf::service
