#include "service/log/limited_log.h"

#include <chrono>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/log_lines.h"

namespace gaitshelf::service {
namespace {

using testing::ElementsAre;
using testing::EndsWith;

TEST(LimitedLogTest, LeavesOutWhatIsTooMuchAndSaysHowMuch) {
  test::LogLines lines;
  LimitedLog log(lines.log(), 2);
  const LimitedLog::Clock::time_point start{std::chrono::seconds(100)};
  for (const char* what : {"a", "b", "c", "d", "e"}) {
    log.Write({.what = what}, start);
  }
  EXPECT_THAT(lines.lines(), ElementsAre(EndsWith("event=a"), EndsWith("event=b")));
  log.Write({.what = "f"}, start + std::chrono::seconds(1));
  EXPECT_THAT(lines.lines(),
              ElementsAre(EndsWith("event=a"),
                          EndsWith("event=b"),
                          EndsWith("event=\"lines are left out\" like=f count=3"),
                          EndsWith("event=f")));
  log.Write({.what = "g"}, start + std::chrono::milliseconds(1900));
  log.Write({.what = "h"}, start + std::chrono::milliseconds(1999));
  EXPECT_THAT(lines.lines().back(), EndsWith("event=g"));
}

}  // namespace
}  // namespace gaitshelf::service
