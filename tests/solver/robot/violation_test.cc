#include "solver/robot/violation.h"

#include <cmath>
#include <cstdlib>
#include <limits>
#include <string>

#include <gtest/gtest.h>

namespace gaitshelf::solver {
namespace {

TEST(NumberTextTest, IsShortAndExact) {
  EXPECT_EQ(NumberText(0.1), "0.1");
  EXPECT_EQ(NumberText(1.0 / 3.0), "0.3333333333333333");
  EXPECT_EQ(NumberText(-0.002), "-0.002");
  EXPECT_EQ(NumberText(std::nan("")), "nan");
  EXPECT_EQ(NumberText(-std::numeric_limits<double>::infinity()), "-inf");
  for (const double value : {0.1 + 0.2, 1e300, 5e-324, std::nextafter(1.0, 2.0)}) {
    EXPECT_EQ(std::strtod(NumberText(value).c_str(), nullptr), value);
  }
}

TEST(NumbersTextTest, ListsInSquareBrackets) {
  EXPECT_EQ(NumbersText({0.0, 0.0, 1.0}), "[0, 0, 1]");
  EXPECT_EQ(NumbersText({}), "[]");
  EXPECT_EQ(NumbersText(std::vector<double>(12, 1.0)), "[1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1]");
  EXPECT_EQ(NumbersText(std::vector<double>(1000, 1.0)),
            "[1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, ...]");
}

TEST(QuotedTextTest, EscapesAndCuts) {
  EXPECT_EQ(QuotedText("a\n\"b\""), "\"a\\n\\\"b\\\"\"");
  EXPECT_EQ(QuotedText(std::string(81, 'x')), "\"" + std::string(80, 'x') + "\"...");
}

}  // namespace
}  // namespace gaitshelf::solver
