#include "solver/pose/pose.h"

#include <numbers>

#include <gtest/gtest.h>

namespace gaitshelf::solver {
namespace {

const Pose kFrom = (Pose() << 0.1, -0.2, 0.011, 0.02, -0.03, 2.5).finished();
const Pose kTo = (Pose() << 0.13, -0.1, 0.012, 0.01, 0.04, 2.9).finished();

TEST(PoseTest, AMotionLeadsFromOnePoseToTheOther) {
  EXPECT_LT((Moved(kFrom, MotionBetween(kFrom, kTo)) - kTo).norm(), 1e-15);
}

TEST(PoseTest, AMotionIsAsTheRobotSeesIt) {
  Pose from = Pose::Zero(), to = Pose::Zero();
  from[5] = std::numbers::pi / 2.0;  // it looks along y
  to << 0.0, 0.01, 0.0, 0.0, 0.0, from[5];
  const Pose motion = MotionBetween(from, to);
  EXPECT_NEAR(motion[0], 0.01, 1e-15);
  EXPECT_NEAR(motion[1], 0.0, 1e-15);
}

TEST(PoseTest, AMotionIsTheSameFromEverywhere) {
  Pose by = Pose::Zero();
  by << 0.4, 0.7, 0.0, 0.0, 0.0, 1.1;
  const auto carry = [&](const Pose& pose) {
    Pose carried = Moved(by, pose);
    return carried;
  };
  EXPECT_LT((MotionBetween(carry(kFrom), carry(kTo)) - MotionBetween(kFrom, kTo)).norm(), 1e-14);
}

TEST(PoseTest, TheNearestTurnIsWithinHalfATurn) {
  EXPECT_NEAR(NearestTurn(-3.1, 3.1), 2.0 * std::numbers::pi - 3.1, 1e-14);
  EXPECT_NEAR(NearestTurn(0.1, 12.6), 4.0 * std::numbers::pi + 0.1, 1e-13);
}

}  // namespace
}  // namespace gaitshelf::solver
