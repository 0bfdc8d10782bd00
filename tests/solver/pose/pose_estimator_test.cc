#include "solver/pose/pose_estimator.h"

#include <cmath>
#include <random>
#include <vector>

#include "solver/base/constants.h"
#include "tests/solver/pose/crawler.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using testing::HasSubstr;

constexpr double kStepS = 1e-3;

class PoseEstimatorTest : public testing::Test {
 protected:
  PoseEstimator Make(const PoseSettings& settings = {}) {
    return PoseEstimator::Create(&crawl_.plan, settings).value();
  }

  bool Step(double time_s, PoseEstimator* estimator) const {
    const double phase = crawler_.Phase(time_s);
    const std::vector<double> legs = crawler_.Legs(phase);
    return estimator->AddStep({.time_s = time_s, .phase_ratio = phase, .leg_position_m = legs});
  }

  // Plays the crawl with a pose tracked every 5 steps that comes in late. Returns the root mean
  // square of the distance from the truth after the first half second.
  double Play(double seconds, double delay_s, double noise_m, PoseEstimator* estimator) const {
    std::mt19937 generator(1);
    std::normal_distribution<double> normal(0.0, 1.0);
    double sum = 0.0;
    int count = 0;
    for (int i = 0; i * kStepS <= seconds; ++i) {
      const double time_s = i * kStepS;
      EXPECT_TRUE(Step(time_s, estimator));
      if (i % 5 == 0 && time_s >= delay_s) {
        Pose tracked = crawler_.Truth(time_s - delay_s);
        for (int k = 0; k < 3; ++k) {
          tracked[k] += noise_m * normal(generator);
        }
        tracked[5] = std::remainder(tracked[5], 6.283185307179586);
        EXPECT_EQ(estimator->AddTracking(time_s - delay_s, tracked), TrackingVerdict::kTaken);
      }
      if (time_s > 0.5) {
        sum += (estimator->Present() - crawler_.Truth(time_s)).head<2>().squaredNorm();
        ++count;
      }
    }
    return std::sqrt(sum / count);
  }

  test::Crawler crawler_{.slip_ratio = 0.05, .heading_rad = 2.8, .turn_rad_per_s = 0.3};
  test::PlannedCrawl crawl_{crawler_};
};

// 80 mm/s less 5 % behind by 40 ms are 3 mm, and the slip alone is 0.16 mm in that time.
TEST_F(PoseEstimatorTest, KnowsThePresentFromLateTracking) {
  PoseEstimator estimator = Make();
  EXPECT_LT(Play(3.0, 0.04, 0.0, &estimator), 4e-5);
  EXPECT_EQ(estimator.left_out_count(), 0);
  EXPECT_NEAR(estimator.Present()[5], 2.8 + 0.3 * 3.0, 0.01);
}

// Late tracking alone is 3 mm behind; the slip that carries it on is learnt from the same noise.
TEST_F(PoseEstimatorTest, IsBetterThanItsTrackingIsNoisy) {
  PoseEstimator estimator = Make();
  EXPECT_LT(Play(3.0, 0.04, 1e-4, &estimator), 1e-4);
}

TEST_F(PoseEstimatorTest, WithoutTrackingItIsReckonedFromTheStart) {
  PoseEstimator estimator = Make();
  EXPECT_FALSE(estimator.is_tracked());
  for (int i = 0; i <= 100; ++i) {
    ASSERT_TRUE(Step(i * kStepS, &estimator));
  }
  EXPECT_FALSE(estimator.is_tracked());
  EXPECT_NEAR(estimator.Present()[0], 0.008, 1e-4);
}

TEST_F(PoseEstimatorTest, TellsWhyATrackedPoseDoesNotCount) {
  PoseEstimator estimator = Make({.greatest_delay_s = 0.05});
  const Pose pose = crawler_.Truth(0.0);
  EXPECT_EQ(estimator.AddTracking(0.0, pose), TrackingVerdict::kNotYet);
  for (int i = 0; i <= 200; ++i) {
    ASSERT_TRUE(Step(i * kStepS, &estimator));
  }
  EXPECT_EQ(estimator.AddTracking(0.1, pose), TrackingVerdict::kTooOld);
  EXPECT_EQ(estimator.AddTracking(0.3, pose), TrackingVerdict::kNotYet);
  EXPECT_EQ(estimator.AddTracking(kNan, pose), TrackingVerdict::kNotYet);
  EXPECT_EQ(estimator.AddTracking(0.18, Pose::Constant(kNan)), TrackingVerdict::kEmpty);
  EXPECT_EQ(estimator.AddTracking(0.18, crawler_.Truth(0.18)), TrackingVerdict::kTaken);
  EXPECT_EQ(estimator.AddTracking(0.18, crawler_.Truth(0.18)), TrackingVerdict::kOutOfOrder);
  EXPECT_EQ(estimator.left_out_count(), 5);
}

TEST_F(PoseEstimatorTest, LeavesOutAMarkerThatJumpsAndBelievesItWhenItStays) {
  PoseEstimator estimator = Make();
  Play(0.6, 0.02, 0.0, &estimator);
  const Pose before = estimator.Present();
  Pose elsewhere = crawler_.Truth(0.59);
  elsewhere[0] += 0.1;
  for (int i = 1; i < PoseEstimator::kMostImplausible; ++i) {
    EXPECT_EQ(estimator.AddTracking(0.585 + 1e-4 * i, elsewhere), TrackingVerdict::kImplausible);
  }
  EXPECT_LT((estimator.Present() - before).norm(), 1e-12);
  EXPECT_EQ(estimator.AddTracking(0.59, elsewhere), TrackingVerdict::kTaken);
  EXPECT_NEAR(estimator.Present()[0] - before[0], 0.1, 2e-3);
}

TEST_F(PoseEstimatorTest, OneGoodPoseForgivesTheBadOnesBefore) {
  PoseEstimator estimator = Make();
  Play(0.6, 0.02, 0.0, &estimator);
  Pose elsewhere = crawler_.Truth(0.59);
  elsewhere[0] += 0.1;
  for (int i = 1; i <= 3 * PoseEstimator::kMostImplausible; ++i) {
    const double capture_s = 0.58 + 1e-3 * i;
    const bool is_good = i % 2 == 0;
    EXPECT_EQ(estimator.AddTracking(capture_s, is_good ? crawler_.Truth(capture_s) : elsewhere),
              is_good ? TrackingVerdict::kTaken : TrackingVerdict::kImplausible);
  }
}

TEST_F(PoseEstimatorTest, LeavesOutStepsThatAreNotLater) {
  PoseEstimator estimator = Make();
  EXPECT_TRUE(Step(0.0, &estimator));
  EXPECT_FALSE(Step(0.0, &estimator));
  EXPECT_FALSE(Step(-1.0, &estimator));
  EXPECT_FALSE(estimator.AddStep({.time_s = kNan}));
  EXPECT_TRUE(Step(kStepS, &estimator));
}

TEST_F(PoseEstimatorTest, GoesOnThroughALossOfTracking) {
  PoseEstimator estimator = Make();
  Play(2.0, 0.02, 0.0, &estimator);
  for (int i = 2001; i <= 2500; ++i) {
    ASSERT_TRUE(Step(i * kStepS, &estimator));
  }
  // Half a second by the legs and the slip that was learnt: 38 mm of way.
  EXPECT_LT((estimator.Present() - crawler_.Truth(2.5)).head<2>().norm(), 1e-3);
}

TEST_F(PoseEstimatorTest, RefusesWhatItIsNotFor) {
  const auto refused = [&](const PoseSettings& settings, const char* text) {
    EXPECT_THAT(PoseEstimator::Create(&crawl_.plan, settings),
                test::HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr(text)));
  };
  refused({.step_rate_hz = 0.0}, "step_rate_hz is 0");
  refused({.greatest_delay_s = 11.0}, "greatest_delay_s is 11");
  refused({.greatest_jump_m = -1.0}, "greatest_jump_m is -1");
  refused({.noise = {.tracked_m = 0.0}}, "deviation");
  const v1::Gait hop = test::MakeHop(crawl_.robot, 50, 0.001);
  const PlannedCycle plan =
      PlannedCycle::Create({.robot = crawl_.robot, .surface = test::MakeSurface(0.5), .gait = hop})
          .value();
  EXPECT_THAT(PoseEstimator::Create(&plan, {}),
              test::HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("hop")));
}

}  // namespace
}  // namespace gaitshelf::solver
