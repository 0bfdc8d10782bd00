#include "service/telemetry/condition_watch.h"

#include <atomic>
#include <chrono>
#include <functional>
#include <string>
#include <thread>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/log_lines.h"

namespace gaitshelf::service {
namespace {

using testing::ElementsAre;
using testing::EndsWith;
using testing::HasSubstr;

bool Await(const std::function<bool()>& is_true) {
  for (int i = 0; i < 6000 && !is_true(); ++i) {
    std::this_thread::sleep_for(std::chrono::milliseconds(10));
  }
  return is_true();
}

TEST(ConditionWatchTest, TellsTheFirstLookAndEveryChange) {
  std::atomic<bool> is_reachable = true;
  std::atomic<int> tell_count = 0;
  std::atomic<int> look_count = 0;
  test::LogLines log;
  const ConditionWatch watch(
      [&] {
        ++look_count;
        Condition condition;
        condition.is_library_reachable = is_reachable;
        condition.counts.gaits = condition.is_library_reachable ? 5 : 0;
        condition.counts.queue_limit = 1;
        return condition;
      },
      std::chrono::milliseconds(1),
      [&](const Condition&) { ++tell_count; },
      log.log());
  EXPECT_EQ(tell_count, 1);
  EXPECT_TRUE(Await([&] { return look_count > 5; }));
  EXPECT_EQ(tell_count, 1);  // nothing has changed
  is_reachable = false;
  EXPECT_TRUE(Await([&] { return tell_count == 2; }));
  EXPECT_EQ(watch.last().counts.gaits, 5);  // what was known last
  EXPECT_FALSE(watch.last().is_library_reachable);
  is_reachable = true;
  EXPECT_TRUE(Await([&] { return tell_count == 3; }));
  EXPECT_THAT(
      log.lines(),
      ElementsAre(EndsWith("level=info event=\"server is well\""),
                  HasSubstr("level=error event=\"server is unwell\" problems=\"the library"),
                  EndsWith("event=\"server is well\"")));
}

}  // namespace
}  // namespace gaitshelf::service
