#include "solver/replay/hand_tuned.h"

#include <algorithm>
#include <atomic>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

HandTunedRequest Request(double frequency_hz, double advance_m) {
  HandTunedRequest request;
  request.robot = test::MakeQuadruped();
  request.surface = test::MakeSurface(0.6);
  request.order.set_robot("quadruped");
  request.order.set_surface("bench");
  request.order.set_stride_frequency_hz(frequency_hz);
  request.order.mutable_task()->mutable_advance()->set_advance_m(advance_m);
  return request;
}

TEST(HandTunedTest, GridHoldsThePlannersOwnGuess) {
  const std::vector<HandTuning> grid = HandTuningGrid(0.8);
  EXPECT_THAT(grid, testing::SizeIs(8));
  EXPECT_TRUE(std::any_of(grid.begin(), grid.end(), [](const HandTuning& tuning) {
    return tuning.asked_ratio == 0.8 && tuning.duty_ratio == 1.0 && tuning.clearance_ratio == 1.0 &&
           tuning.height_ratio == 1.0;
  }));
}

TEST(HandTunedTest, GaitHasLevelBodyAtConstantSpeed) {
  const HandTuning tuning{.asked_ratio = 0.5, .height_ratio = 0.98};
  const auto gait = MakeHandTunedGait(Request(12.0, 0.008), tuning);
  ASSERT_THAT(gait, test::IsOk());
  EXPECT_TRUE(gait->is_periodic());
  EXPECT_NEAR(gait->advance_m(), 0.004, 1e-12);
  EXPECT_NEAR(gait->knot_count() * gait->knot_period_s(), 1.0 / 12.0, 1e-12);
  for (int k = 0; k < gait->knot_count(); ++k) {
    EXPECT_NEAR(gait->body_position_m(3 * k), 0.004 * k / gait->knot_count(), 1e-12);
    EXPECT_NEAR(gait->body_position_m(3 * k + 2), 0.98 * 0.011, 1e-12);
  }
  EXPECT_THAT(gait->voltage_v(),
              testing::Each(testing::AllOf(testing::Ge(0.0), testing::Le(200.0))));
}

TEST(HandTunedTest, DutyIsTheShareOfTheCycleUnderLoad) {
  const auto gait = MakeHandTunedGait(Request(12.0, 0.008), {.duty_ratio = 1.15});
  ASSERT_THAT(gait, test::IsOk());
  int loaded = 0;
  for (int i = 2; i < gait->foot_force_n_size(); i += 3) {
    loaded += gait->foot_force_n(i) > 0.0 ? 1 : 0;
  }
  // A trot stands half the cycle, here 1.15 times that; one knot in 80 is the resolution.
  EXPECT_NEAR(3.0 * loaded / gait->foot_force_n_size(), 0.575, 0.0126);
}

TEST(HandTunedTest, FindsAGaitThatWalksAndSaysWhich) {
  HandTunedRequest request = Request(12.0, 0.006);
  std::atomic<int> calls{0};
  request.on_replay = [&] { ++calls; };
  const auto best = FindHandTuned(request);
  ASSERT_THAT(best, test::IsOk());
  EXPECT_GE(best->replay_count(), 8);
  EXPECT_EQ(calls, best->replay_count());
  ASSERT_GT(best->accepted_count(), 0) << best->DebugString();
  EXPECT_GT(best->advance_m(), 0.001);
  EXPECT_LE(best->asked_advance_m(), 0.006);
  EXPECT_EQ(best->seed_pattern(), v1::SEED_PATTERN_TROT);
  EXPECT_GT(best->duty_ratio(), 0.4);
  EXPECT_GT(best->body_height_m(), 0.010);
  request.thread_count = 2;
  const auto again = FindHandTuned(request);
  ASSERT_THAT(again, test::IsOk());
  EXPECT_EQ(again->advance_m(), best->advance_m());
  EXPECT_EQ(again->accepted_count(), best->accepted_count());
}

TEST(HandTunedTest, FindsTheGaitThatGoesFurthestBackwards) {
  const auto best = FindHandTuned(Request(12.0, -0.006));
  ASSERT_THAT(best, test::IsOk());
  ASSERT_GT(best->accepted_count(), 0) << best->DebugString();
  EXPECT_LT(best->advance_m(), -0.001);
}

TEST(HandTunedTest, AcceptsNothingThatOnlySlides) {
  // Without friction the feet slide all the way.
  HandTunedRequest request = Request(12.0, 0.006);
  request.surface = test::MakeSurface(0.0);
  const auto best = FindHandTuned(request);
  ASSERT_THAT(best, test::IsOk());
  EXPECT_EQ(best->accepted_count(), 0) << best->DebugString();
  EXPECT_EQ(best->advance_m(), 0.0);
  EXPECT_EQ(best->replay_count(), 24);  // shorter strides have been tried, too
}

TEST(HandTunedTest, RejectsAHopAndStopsWhenAsked) {
  HandTunedRequest request = Request(12.0, 0.006);
  const std::atomic<bool> stop = true;
  request.stop = &stop;
  EXPECT_EQ(FindHandTuned(request).status().code(), absl::StatusCode::kCancelled);
  request.order.mutable_task()->mutable_hop()->set_rise_m(0.005);
  EXPECT_THAT(FindHandTuned(request),
              test::HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("advance")));
}

}  // namespace
}  // namespace gaitshelf::solver
