#include "tests/bench/json.h"

#include <limits>

#include <gtest/gtest.h>

namespace gaitshelf::bench {
namespace {

TEST(JsonTest, WritesScalars) {
  EXPECT_EQ(Json(0.25).Text(), "0.25");
  EXPECT_EQ(Json(123456789).Text(), "123456789");
  EXPECT_EQ(Json(true).Text(), "true");
  EXPECT_EQ(Json(false).Text(), "false");
  EXPECT_EQ(Json("a \"b\"\\\n").Text(), R"("a \"b\"\\\u000a")");
}

TEST(JsonTest, WritesNullForWhatIsNoNumber) {
  EXPECT_EQ(Json(std::numeric_limits<double>::infinity()).Text(), "null");
  EXPECT_EQ(Json(std::numeric_limits<double>::quiet_NaN()).Text(), "null");
}

TEST(JsonTest, KeepsMembersInTheOrderInWhichTheyWereSet) {
  const Json json =
      Json::Object().Set("b", 1).Set("a", Json::List().Add("x").Add(2)).Set("none", Json::Object());
  EXPECT_EQ(json.Text(), "{\n  \"b\": 1,\n  \"a\": [\n    \"x\",\n    2\n  ],\n  \"none\": {}\n}");
}

}  // namespace
}  // namespace gaitshelf::bench
