#include "solver/pose/pose_window.h"

#include <cmath>
#include <random>

#include <gtest/gtest.h>

#include "solver/base/constants.h"

namespace gaitshelf::solver {
namespace {

// A circle walked at 80 mm/s: what the legs tell between two poses, and the poses.
PoseLink LinkOf(const Pose& from, const Pose& to, double duration_s) {
  return {.motion = MotionBetween(from, to), .duration_s = duration_s};
}

Pose OnCircle(int i) {
  const double yaw = 0.4 + 0.05 * i;
  Pose pose;
  pose << 0.02 * std::sin(yaw), -0.02 * std::cos(yaw), 0.011, 0.01, -0.02, yaw;
  return pose;
}

TEST(PoseWindowTest, FollowsExactDataRoundACircleExactly) {
  PoseWindow window{PoseNoise()};
  window.Start(OnCircle(0), Pose::Zero());
  for (int i = 1; i <= 200; ++i) {
    window.Add(LinkOf(OnCircle(i - 1), OnCircle(i), 0.01), OnCircle(i));
    ASSERT_EQ(window.size(), std::min(i + 1, PoseWindow::kCapacity));
  }
  // From a first pose that was right, nothing is to be moved.
  EXPECT_LT((window.newest().pose - OnCircle(200)).norm(), 1e-9);
  EXPECT_LT((window.at(0).pose - OnCircle(200 - PoseWindow::kCapacity + 1)).norm(), 1e-9);
  EXPECT_LT(window.newest().slip.norm(), 1e-7);
}

TEST(PoseWindowTest, LearnsASteadySlipAndForeseesByIt) {
  PoseWindow window{PoseNoise()};
  // Legs tell 1 mm along in each 10 ms, but it moves 0.9 mm and drifts by 0.05 mm to the left.
  Pose told = Pose::Zero(), real = Pose::Zero();
  told[0] = 1e-3;
  real << 0.9e-3, 0.05e-3, 0.0, 0.0, 0.0, 0.002;
  Pose pose = Pose::Zero();
  pose[5] = 1.0;
  window.Start(pose, Pose::Zero());
  for (int i = 0; i < 200; ++i) {
    pose = Moved(pose, real);
    window.Add({.motion = told, .duration_s = 0.01}, pose);
  }
  EXPECT_NEAR(window.newest().slip[0], -0.01, 2e-4);
  EXPECT_NEAR(window.newest().slip[1], 0.005, 2e-4);
  EXPECT_NEAR(window.newest().slip[2], 0.2, 0.01);
  Pose next = MovedSlipping(window.newest(), {.motion = told, .duration_s = 0.01});
  EXPECT_LT((next - Moved(pose, real)).head<2>().norm(), 1e-5);
}

TEST(PoseWindowTest, WhatIsNotTrackedComesFromTheLegs) {
  PoseWindow window{PoseNoise()};
  const auto seen = [](int i) {
    Pose pose = OnCircle(i);
    pose.segment<3>(2).setConstant(kNan);
    return pose;
  };
  window.Start(seen(0), OnCircle(0));
  for (int i = 1; i <= 50; ++i) {
    window.Add(LinkOf(OnCircle(i - 1), OnCircle(i), 0.01), seen(i));
  }
  EXPECT_LT((window.newest().pose - OnCircle(50)).norm(), 1e-8);
}

// A heading that nobody tracks shows in the way that is walked.
TEST(PoseWindowTest, FindsTheHeadingFromTheWay) {
  PoseWindow window{PoseNoise()};
  Pose told = Pose::Zero();
  told[0] = 1e-3;
  const double heading = 0.7;
  const auto seen = [&](int i) {
    Pose pose = Pose::Constant(kNan);
    pose.head<2>() << 1e-3 * i * std::cos(heading), 1e-3 * i * std::sin(heading);
    return pose;
  };
  window.Start(seen(0), Pose::Zero());
  for (int i = 1; i <= 100; ++i) {
    window.Add({.motion = told, .duration_s = 0.01}, seen(i));
  }
  // Slip across would explain the way, too, and takes its share of it.
  EXPECT_NEAR(window.newest().pose[5], heading, 0.1);
}

TEST(PoseWindowTest, AveragesNoise) {
  std::mt19937 generator(3);
  std::normal_distribution<double> normal(0.0, 1.0);
  const PoseNoise noise;
  PoseWindow window{noise};
  const auto seen = [&](int i) {
    Pose pose = OnCircle(i);
    for (int k = 0; k < 6; ++k) {
      pose[k] += (k < 3 ? noise.tracked_m : noise.tracked_rad) * normal(generator);
    }
    return pose;
  };
  window.Start(seen(0), Pose::Zero());
  double raw = 0.0, filtered = 0.0, smoothed = 0.0;
  for (int i = 1; i <= 2000; ++i) {
    const Pose tracked = seen(i);
    window.Add(LinkOf(OnCircle(i - 1), OnCircle(i), 0.002), tracked);
    if (i > 200) {
      raw += (tracked - OnCircle(i)).head<3>().squaredNorm();
      filtered += (window.newest().pose - OnCircle(i)).head<3>().squaredNorm();
      smoothed += (window.at(0).pose - OnCircle(i - window.size() + 1)).head<3>().squaredNorm();
    }
  }
  EXPECT_LT(std::sqrt(filtered), 0.75 * std::sqrt(raw));
  EXPECT_LT(std::sqrt(smoothed), 0.9 * std::sqrt(filtered));
}

TEST(PoseWindowTest, StartForgetsWhatWas) {
  PoseWindow window{PoseNoise()};
  window.Start(OnCircle(0), Pose::Zero());
  for (int i = 1; i < 20; ++i) {
    window.Add(LinkOf(OnCircle(i - 1), OnCircle(i), 0.01), OnCircle(i));
  }
  window.Start(OnCircle(100), Pose::Zero());
  EXPECT_EQ(window.size(), 1);
  EXPECT_LT((window.newest().pose - OnCircle(100)).norm(), 1e-9);
}

}  // namespace
}  // namespace gaitshelf::solver
