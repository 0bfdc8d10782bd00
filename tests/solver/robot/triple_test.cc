#include "solver/robot/triple.h"

#include <cmath>
#include <initializer_list>

#include <gtest/gtest.h>

namespace gaitshelf::solver {
namespace {

Triple Make(std::initializer_list<double> numbers) {
  return Triple(numbers.begin(), numbers.end());
}

TEST(TripleTest, IsThreeFiniteNumbers) {
  EXPECT_TRUE(IsFiniteTriple(Make({1.0, 2.0, 3.0})));
  EXPECT_FALSE(IsFiniteTriple(Make({1.0, 2.0})));
  EXPECT_FALSE(IsFiniteTriple(Make({1.0, 2.0, 3.0, 4.0})));
  EXPECT_FALSE(IsFiniteTriple(Make({1.0, std::nan(""), 3.0})));
  EXPECT_FALSE(IsFiniteTriple(Make({})));
}

TEST(TripleTest, HasTheNormOfItsVector) {
  // 2, 3, 6, 7: a quadruple of whole numbers.
  EXPECT_DOUBLE_EQ(Norm(2.0, -3.0, 6.0), 7.0);
}

TEST(TripleTest, IsWrittenInSquareBrackets) {
  EXPECT_EQ(TripleText(Make({0.0, -0.5, 1.0})), "[0, -0.5, 1]");
}

}  // namespace
}  // namespace gaitshelf::solver
