#include "solver/leg/attitude.h"

#include <cmath>

#include <Eigen/Geometry>
#include <gtest/gtest.h>

namespace gaitshelf::solver {
namespace {

const Eigen::Vector3d kAngles(0.4, -0.7, 2.1);

Attitude At(const Eigen::Vector3d& angles) {
  Attitude attitude;
  EvaluateAttitude(angles, AttitudeOrder::kSecond, &attitude);
  return attitude;
}

TEST(AttitudeTest, RotationIsYawTimesPitchTimesRoll) {
  const Eigen::Matrix3d expected = (Eigen::AngleAxisd(kAngles[2], Eigen::Vector3d::UnitZ()) *
                                    Eigen::AngleAxisd(kAngles[1], Eigen::Vector3d::UnitY()) *
                                    Eigen::AngleAxisd(kAngles[0], Eigen::Vector3d::UnitX()))
                                       .toRotationMatrix();
  EXPECT_LT((At(kAngles).rotation - expected).norm(), 1e-15);
}

TEST(AttitudeTest, RatesGiveTheAngularVelocityInTheBodyFrame) {
  const Attitude attitude = At(kAngles);
  for (int i = 0; i < 3; ++i) {
    // R' dR/d(angle) is the skew matrix of that angle's column of W.
    const Eigen::Matrix3d skew =
        attitude.rotation.transpose() * attitude.rotation_d[static_cast<size_t>(i)];
    EXPECT_NEAR(skew(2, 1), attitude.rates(0, i), 1e-15);
    EXPECT_NEAR(skew(0, 2), attitude.rates(1, i), 1e-15);
    EXPECT_NEAR(skew(1, 0), attitude.rates(2, i), 1e-15);
    EXPECT_LT((skew + skew.transpose()).norm(), 1e-15);
  }
}

TEST(AttitudeTest, DerivativesAgreeWithCentralDifferences) {
  // 1e-5: truncation 1e-10 against rounding 1e-11.
  constexpr double kStep = 1e-5;
  constexpr double kTolerance = 1e-9;
  const Attitude attitude = At(kAngles);
  for (int j = 0; j < 3; ++j) {
    const Eigen::Vector3d step = kStep * Eigen::Vector3d::Unit(j);
    const Attitude above = At(kAngles + step);
    const Attitude below = At(kAngles - step);
    const auto difference = [](const Eigen::Matrix3d& a, const Eigen::Matrix3d& b) {
      return Eigen::Matrix3d((a - b) / (2.0 * kStep));
    };
    const auto k = static_cast<size_t>(j);
    EXPECT_LT((difference(above.rotation, below.rotation) - attitude.rotation_d[k]).norm(),
              kTolerance);
    EXPECT_LT((difference(above.rates, below.rates) - attitude.rates_d[k]).norm(), kTolerance);
    for (int i = 0; i < 3; ++i) {
      const auto first = static_cast<size_t>(i);
      const auto second =
          static_cast<size_t>(Attitude::SecondIndex(std::min(i, j), std::max(i, j)));
      EXPECT_LT((difference(above.rotation_d[first], below.rotation_d[first]) -
                 attitude.rotation_dd[second])
                    .norm(),
                kTolerance);
      EXPECT_LT((difference(above.rates_d[first], below.rates_d[first]) - attitude.rates_dd[second])
                    .norm(),
                kTolerance);
    }
  }
}

}  // namespace
}  // namespace gaitshelf::solver
