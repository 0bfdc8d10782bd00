#include "solver/calibrate/predict.h"

#include <atomic>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/solver/replay/made_gaits.h"
#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

// A gait that was made for a surface without friction.
PredictionRequest Coasting(double friction) {
  PredictionRequest request;
  request.robot = test::MakeQuadruped();
  request.surface = test::MakeSurface(friction);
  request.gait = test::MakeCoasting(request.robot, test::MakeSurface(0.0));
  return request;
}

TEST(PredictReplayTest, SaysWhatAGaitDoesOnWhatIsNowKnown) {
  const auto described = PredictReplay(Coasting(0.0));
  ASSERT_THAT(described, test::IsOk());
  EXPECT_EQ(described->trouble, "");
  EXPECT_NEAR(described->replay.advance_m(), 0.009, 1e-4);
  // Where there is friction after all, nothing coasts.
  const auto found = PredictReplay(Coasting(0.3));
  ASSERT_THAT(found, test::IsOk());
  EXPECT_LT(found->replay.advance_m(), 0.001);
}

TEST(PredictReplayTest, StopsWhenItIsTold) {
  const std::atomic<bool> stop = true;
  PredictionRequest request = Coasting(0.0);
  request.stop = &stop;
  EXPECT_THAT(PredictReplay(request), test::HasStatus(absl::StatusCode::kCancelled, testing::_));
}

}  // namespace
}  // namespace gaitshelf::solver
