#include "solver/contact/complementarity.h"

#include <cmath>
#include <random>

#include <gtest/gtest.h>

namespace gaitshelf::solver {
namespace {

// Central differences of a smooth function of order 1 with step 1e-6 are good to about 1e-9.
constexpr double kDerivativeTolerance = 1e-7;

TEST(ScalarComplementarityTest, IsZeroExactlyWhereTheProductIsEpsSquared) {
  for (const double eps : {0.1, 1e-3}) {
    for (const double a : {1e-4, 0.03, 2.0}) {
      EXPECT_NEAR(EvaluateScalarComplementarity(a, eps * eps / a, eps).value, 0.0, 1e-15);
    }
    EXPECT_LT(EvaluateScalarComplementarity(-0.1, 0.5, eps).value, 0.0);
    EXPECT_GT(EvaluateScalarComplementarity(0.5, 0.5, eps).value, 0.0);
  }
}

TEST(ScalarComplementarityTest, DerivativesMatchCentralDifferences) {
  std::mt19937 generator(1);
  std::uniform_real_distribution<double> uniform(-1.0, 1.0);
  for (int i = 0; i < 100; ++i) {
    const double a = uniform(generator);
    const double b = uniform(generator);
    const double step = 1e-6;
    const ScalarComplementarity law = EvaluateScalarComplementarity(a, b, 0.05);
    const double by_a = (EvaluateScalarComplementarity(a + step, b, 0.05).value -
                         EvaluateScalarComplementarity(a - step, b, 0.05).value) /
                        (2.0 * step);
    const double by_b = (EvaluateScalarComplementarity(a, b + step, 0.05).value -
                         EvaluateScalarComplementarity(a, b - step, 0.05).value) /
                        (2.0 * step);
    EXPECT_NEAR(law.by_a, by_a, kDerivativeTolerance);
    EXPECT_NEAR(law.by_b, by_b, kDerivativeTolerance);
  }
}

TEST(ConeComplementarityTest, IsZeroForAStickingFoot) {
  // Force inside the cone, no sliding: the smoothed law holds with a sliding speed of order eps^2.
  const double eps = 1e-3;
  const Eigen::Vector3d x(1.0, 0.3, -0.4);
  // x o y = eps^2 e has the solution y = eps^2 x^-1 with x^-1 = (x0, -xv) / (x0^2 - |xv|^2).
  const double determinant = 1.0 - 0.25;
  const Eigen::Vector3d y = eps * eps / determinant * Eigen::Vector3d(1.0, -0.3, 0.4);
  EXPECT_LT(EvaluateConeComplementarity(x, y, eps).value.norm(), 1e-15);
}

TEST(ConeComplementarityTest, IsZeroForASlidingFootOnlyWhenTheForceOpposesTheSliding) {
  const double eps = 1e-6;
  const Eigen::Vector3d sliding(0.5, 0.3, 0.4);
  const Eigen::Vector3d against(0.2, -0.2 * 0.6, -0.2 * 0.8);
  const Eigen::Vector3d aslant(0.2, -0.2 * 0.8, -0.2 * 0.6);
  EXPECT_LT(EvaluateConeComplementarity(against, sliding, eps).value.norm(), 1e-5);
  EXPECT_GT(EvaluateConeComplementarity(aslant, sliding, eps).value.norm(), 1e-3);
}

TEST(ConeComplementarityTest, ReducesToTheScalarLawWithoutTangentialParts) {
  const ConeComplementarity cone =
      EvaluateConeComplementarity({0.7, 0.0, 0.0}, {0.2, 0.0, 0.0}, 0.05);
  const ScalarComplementarity scalar = EvaluateScalarComplementarity(0.7, 0.2, 0.05);
  EXPECT_NEAR(cone.value(0), scalar.value, 1e-15);
  EXPECT_NEAR(cone.by_x(0, 0), scalar.by_a, 1e-14);
  EXPECT_NEAR(cone.by_y(0, 0), scalar.by_b, 1e-14);
}

TEST(ConeComplementarityTest, DerivativesMatchCentralDifferences) {
  std::mt19937 generator(2);
  std::uniform_real_distribution<double> uniform(-1.0, 1.0);
  const double step = 1e-6;
  for (int i = 0; i < 100; ++i) {
    Eigen::Vector3d x(uniform(generator), uniform(generator), uniform(generator));
    Eigen::Vector3d y(uniform(generator), uniform(generator), uniform(generator));
    const ConeComplementarity law = EvaluateConeComplementarity(x, y, 0.1);
    for (int j = 0; j < 3; ++j) {
      const Eigen::Vector3d move = step * Eigen::Vector3d::Unit(j);
      const Eigen::Vector3d by_x = (EvaluateConeComplementarity(x + move, y, 0.1).value -
                                    EvaluateConeComplementarity(x - move, y, 0.1).value) /
                                   (2.0 * step);
      const Eigen::Vector3d by_y = (EvaluateConeComplementarity(x, y + move, 0.1).value -
                                    EvaluateConeComplementarity(x, y - move, 0.1).value) /
                                   (2.0 * step);
      EXPECT_LT((law.by_x.col(j) - by_x).norm(), kDerivativeTolerance);
      EXPECT_LT((law.by_y.col(j) - by_y).norm(), kDerivativeTolerance);
    }
  }
}

}  // namespace
}  // namespace gaitshelf::solver
