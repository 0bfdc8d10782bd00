#include "clients/controller/time_limit.h"

#include <future>

#include <gtest/gtest.h>

namespace gaitshelf::client {
namespace {

TEST(TimeLimitTest, ActsOnceWhenTheLimitHasPassed) {
  std::promise<void> acted;  // to be kept twice would end the program
  const TimeLimit limit(0.01, [&acted] { acted.set_value(); });
  acted.get_future().wait();
}

TEST(TimeLimitTest, LeavesAloneWhatEndsInTime) {
  bool has_acted = false;
  {
    const TimeLimit limit(3600.0, [&has_acted] { has_acted = true; });
  }
  EXPECT_FALSE(has_acted);
}

}  // namespace
}  // namespace gaitshelf::client
