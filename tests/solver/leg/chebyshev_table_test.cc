#include "solver/leg/chebyshev_table.h"

#include <cmath>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace gaitshelf::solver {
namespace {

using Eigen::Vector2d;

// Function f is (f + 1) x^3 y^2 + y.
ChebyshevFit CubicFit() {
  constexpr int kCount = ChebyshevFit::kNodeCount;
  std::vector<LegValues> values;
  for (int i = 0; i < kCount; ++i) {
    for (int j = 0; j < kCount; ++j) {
      const double x = ChebyshevFit::Node(i);
      const double y = ChebyshevFit::Node(j);
      LegValues& v = values.emplace_back();
      for (size_t f = 0; f < v.size(); ++f) {
        v[f] = static_cast<double>(f + 1) * x * x * x * y * y + y;
      }
    }
  }
  return ChebyshevFit(values);
}

ChebyshevTable CubicTable() {
  LegValues units;
  units.fill(1.0);
  return {CubicFit().Coefficients(3, LegValues{}), units, 3};
}

TEST(ChebyshevTableTest, GivesAPolynomialBackWithItsDerivatives) {
  const ChebyshevTable table = CubicTable();
  const double x = 0.3;
  const double y = -0.7;
  LegEvaluation at{};
  table.Evaluate(Vector2d(x, y), Vector2d(2.0, 5.0), DerivativeOrder::kSecond, &at);
  for (size_t f = 0; f < at.value.size(); ++f) {
    const double c = static_cast<double>(f + 1);
    EXPECT_NEAR(at.value[f], c * x * x * x * y * y + y, 1e-12);
    EXPECT_NEAR(at.first[0][f], 2.0 * c * 3.0 * x * x * y * y, 1e-11);
    EXPECT_NEAR(at.first[1][f], 5.0 * (c * 2.0 * x * x * x * y + 1.0), 1e-11);
    EXPECT_NEAR(at.second[0][f], 4.0 * c * 6.0 * x * y * y, 1e-10);
    EXPECT_NEAR(at.second[1][f], 25.0 * c * 2.0 * x * x * x, 1e-10);
    EXPECT_NEAR(at.second[2][f], 10.0 * c * 6.0 * x * x * y, 1e-10);
  }
}

TEST(ChebyshevTableTest, LeavesSecondDerivativesOutWhenTheyAreNotWanted) {
  const ChebyshevTable table = CubicTable();
  LegEvaluation whole{};
  table.Evaluate(Vector2d(0.3, -0.7), Vector2d(2.0, 5.0), DerivativeOrder::kSecond, &whole);
  LegEvaluation part = whole;
  table.Evaluate(Vector2d(0.3, -0.7), Vector2d(2.0, 5.0), DerivativeOrder::kFirst, &part);
  EXPECT_EQ(part.value, whole.value);
  EXPECT_EQ(part.first, whole.first);
  for (const LegValues& second : part.second) {
    EXPECT_EQ(second, LegValues{});
  }
}

TEST(ChebyshevTableTest, GoesOnAsAParabolaFarOutside) {
  const ChebyshevTable table = CubicTable();
  LegEvaluation near{};
  LegEvaluation far{};
  table.Evaluate(Vector2d(1.15, 0.5), Vector2d::Ones(), DerivativeOrder::kSecond, &near);
  table.Evaluate(Vector2d(2.15, 0.5), Vector2d::Ones(), DerivativeOrder::kSecond, &far);
  EXPECT_NEAR(near.value[0], 0.25 * std::pow(1.15, 3) + 0.5, 1e-12);
  EXPECT_NEAR(far.value[0], near.value[0] + near.first[0][0] + 0.5 * near.second[0][0], 1e-12);
  EXPECT_NEAR(far.first[0][0], near.first[0][0] + near.second[0][0], 1e-12);
  EXPECT_NEAR(far.second[0][0], near.second[0][0], 1e-12);
}

TEST(ChebyshevFitTest, TailBoundsWhatADegreeLeavesOut) {
  // x^3 = (3 T1 + T3) / 4, y^2 = (T0 + T2) / 2: degree 2 leaves out (T3 / 4) (T0 + T2) / 2.
  EXPECT_NEAR(CubicFit().Tail(2)[0], 0.25, 1e-12);
  EXPECT_NEAR(CubicFit().Tail(3)[0], 0.0, 1e-12);
}

TEST(ChebyshevFitTest, LeavesOutTheLeastCoefficientsThatTogetherAreSmall) {
  // Of function f: (f + 1) (3 T1 + T3) (T0 + T2) / 8 + y: T3 terms (f + 1) / 8, T1 terms three
  // times that, y 1.
  LegValues may_lose{};
  may_lose[0] = 0.24;  // one of two terms of 1/8
  may_lose[1] = 0.51;  // both of 1/4
  const std::vector<double> all = CubicFit().Coefficients(3, LegValues{});
  const std::vector<double> less = CubicFit().Coefficients(3, may_lose);
  const auto at = [](size_t f, size_t i, size_t j) { return 16 * f + 4 * i + j; };
  double lost = 0.0;
  for (size_t k = 0; k < 16; ++k) {
    lost += std::abs(all[k] - less[k]);
  }
  EXPECT_LE(lost, may_lose[0]);
  EXPECT_NEAR(less[at(0, 1, 0)], 0.375, 1e-12);
  EXPECT_EQ(less[at(1, 3, 0)], 0.0);
  EXPECT_EQ(less[at(1, 3, 2)], 0.0);
  EXPECT_NEAR(less[at(1, 1, 2)], 0.75, 1e-12);
  EXPECT_EQ(less[at(2, 3, 0)], all[at(2, 3, 0)]);
  EXPECT_EQ(less.size(), all.size());
}

// Rows and columns of any length that are 0 are passed over and nothing else.
TEST(ChebyshevTableTest, AddsUpAllThatIsNotZero) {
  constexpr int kDegree = 9;
  constexpr size_t kCount = kDegree + 1;
  LegValues units;
  units.fill(1.0);
  const Vector2d t(0.31, -0.72);
  for (size_t i = 0; i < kCount; ++i) {
    for (size_t j = 0; j < kCount; ++j) {
      std::vector<double> coefficients(LegFunction::kCount * kCount * kCount, 0.0);
      const size_t f = (7 * i + j) % LegFunction::kCount;
      coefficients[(f * kCount + i) * kCount + j] = 2.0;
      LegEvaluation at{};
      ChebyshevTable(coefficients, units, kDegree)
          .Evaluate(t, Vector2d::Ones(), DerivativeOrder::kSecond, &at);
      // T_n(cos a) = cos(n a).
      const double x = std::cos(static_cast<double>(i) * std::acos(t[0]));
      const double y = std::cos(static_cast<double>(j) * std::acos(t[1]));
      EXPECT_NEAR(at.value[f], 2.0 * x * y, 1e-13) << i << " " << j;
      at.value[f] = 0.0;
      EXPECT_EQ(at.value, LegValues{});
    }
  }
}

}  // namespace
}  // namespace gaitshelf::solver
