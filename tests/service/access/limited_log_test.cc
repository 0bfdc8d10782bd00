#include "service/access/limited_log.h"

#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace gaitshelf::service {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;

TEST(LimitedLogTest, LeavesOutWhatIsTooMuchAndSaysHowMuch) {
  std::vector<std::string> lines;
  LimitedLog log([&](const std::string& line) { lines.push_back(line); }, 2);
  const LimitedLog::Clock::time_point start{std::chrono::seconds(100)};
  for (const char* line : {"a", "b", "c", "d", "e"}) {
    log.Write(line, start);
  }
  EXPECT_THAT(lines, ElementsAre("a", "b"));
  log.Write("f", start + std::chrono::seconds(1));
  EXPECT_THAT(lines, ElementsAre("a", "b", HasSubstr("3 more"), "f"));
  log.Write("g", start + std::chrono::milliseconds(1900));
  log.Write("h", start + std::chrono::milliseconds(1999));
  EXPECT_EQ(lines.back(), "g");
}

}  // namespace
}  // namespace gaitshelf::service
