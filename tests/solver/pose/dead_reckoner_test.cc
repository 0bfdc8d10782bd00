#include "solver/pose/dead_reckoner.h"

#include <cmath>
#include <vector>

#include <gtest/gtest.h>

#include "tests/solver/pose/crawler.h"

namespace gaitshelf::solver {
namespace {

constexpr double kStepS = 1e-3;

TEST(DeadReckonerTest, FollowsFeetThatStand) {
  const test::Crawler crawler;
  const test::PlannedCrawl crawl(crawler);
  DeadReckoner reckoner(&crawl.plan);
  Pose pose;
  for (int i = 0; i <= 1000; ++i) {
    const double phase = crawler.Phase(i * kStepS);
    const std::vector<double> legs = crawler.Legs(phase);
    pose = reckoner.Add({.time_s = i * kStepS, .phase_ratio = phase, .leg_position_m = legs});
  }
  // Ten cycles of 8 mm; a step at which a foot lands does not count all of it.
  EXPECT_NEAR(pose[0], 0.08, 1e-4);
  EXPECT_NEAR(pose[1], 0.0, 1e-6);
  EXPECT_NEAR(pose[2], 0.011, 1e-6);
  EXPECT_NEAR(pose[5], 0.0, 1e-4);
}

// Legs that do not follow the plan: their feet say how far it went, and not the plan.
TEST(DeadReckonerTest, BelievesTheLegsMoreThanThePlan) {
  const test::PlannedCrawl crawl{test::Crawler()};
  DeadReckoner reckoner(&crawl.plan);
  const std::vector<double> contacts(4, 1.0);
  Pose pose;
  for (int i = 0; i <= 100; ++i) {
    std::vector<double> legs(8, 0.0);
    for (std::size_t leg = 0; leg < 4; ++leg) {
      legs[2 * leg + 1] = -2e-5 * i;  // back by 2 mm: the body goes forward
    }
    pose = reckoner.Add({.time_s = i * kStepS,
                         .phase_ratio = std::fmod(0.01 * i, 1.0),
                         .leg_position_m = legs,
                         .contact_ratio = contacts});
  }
  // The plan goes 8 mm in this time. Four feet with a variance 36 times smaller.
  EXPECT_NEAR(pose[0], 0.002, 0.006 / (4.0 * 36.0) * 1.5);
}

TEST(DeadReckonerTest, TurnsWithItsFeet) {
  const test::PlannedCrawl crawl{test::Crawler()};
  DeadReckoner reckoner(&crawl.plan);
  Pose pose;
  for (int i = 0; i <= 100; ++i) {
    // Left feet go forward in the body, right feet back, 17.5 mm beside its middle: it turns to the
    // left.
    const double way_m = 1e-5 * i;
    const std::vector<double> legs = {0.0, way_m, 0.0, -way_m, 0.0, way_m, 0.0, -way_m};
    pose = reckoner.Add({.time_s = i * kStepS, .phase_ratio = -1.0, .leg_position_m = legs});
  }
  // They are 15 mm before and behind the middle as well and slide sideways as it turns: the least
  // squares of both are at w y / (x^2 + y^2).
  const double angle = 0.001 * 0.0175 / (0.015 * 0.015 + 0.0175 * 0.0175);
  EXPECT_NEAR(pose[5], angle, 0.02 * angle);
  EXPECT_NEAR(pose[0], 0.0, 1e-5);
}

TEST(DeadReckonerTest, GoesAsPlannedWhereNoFootStands) {
  const test::Crawler crawler;
  const test::PlannedCrawl crawl(crawler);
  DeadReckoner reckoner(&crawl.plan);
  const std::vector<double> in_air(4, 0.0);
  Pose pose;
  for (int i = 0; i <= 50; ++i) {
    pose = reckoner.Add(
        {.time_s = i * kStepS, .phase_ratio = crawler.Phase(i * kStepS), .contact_ratio = in_air});
  }
  EXPECT_NEAR(pose[0], 0.5 * 0.008, 1e-8);
}

TEST(DeadReckonerTest, CountsWholeCyclesOfAGapInTheLog) {
  const test::Crawler crawler;
  const test::PlannedCrawl crawl(crawler);
  DeadReckoner reckoner(&crawl.plan);
  const std::vector<double> in_air(4, 0.0);
  reckoner.Add({.time_s = 0.0, .phase_ratio = 0.0, .contact_ratio = in_air});
  const Pose pose = reckoner.Add({.time_s = 0.225, .phase_ratio = 0.25, .contact_ratio = in_air});
  EXPECT_NEAR(pose[0], 2.25 * 0.008, 1e-8);
}

}  // namespace
}  // namespace gaitshelf::solver
