#include "solver/replay/spread.h"

#include <atomic>
#include <cmath>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "solver/replay/audit_gait.h"
#include "tests/solver/replay/made_gaits.h"
#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

SpreadRequest HopRequest(double uncertainty_ratio, double friction_uncertainty) {
  SpreadRequest request;
  request.robot = test::MakeQuadruped();
  request.robot.mutable_uncertainty()->set_mass_ratio(uncertainty_ratio);
  request.robot.mutable_uncertainty()->set_stiffness_ratio(uncertainty_ratio);
  request.robot.mutable_uncertainty()->set_gain_ratio(uncertainty_ratio);
  request.surface = test::MakeSurface(0.45);
  request.surface.set_friction_uncertainty_coefficient(friction_uncertainty);
  request.gait = test::MakeHop(request.robot, request.surface);
  request.replay_count = 6;
  return request;
}

v1::Spread SpreadOf(const SpreadRequest& request) {
  const auto spread = ComputeSpread(request);
  EXPECT_THAT(spread, test::IsOk());
  v1::Spread figures = spread.ok() ? *spread : v1::Spread();
  EXPECT_GT(figures.cpu_s(), 0.0);
  figures.clear_cpu_s();
  return figures;
}

TEST(SpreadTest, IsThePlainReplayWhenEverythingIsKnown) {
  const SpreadRequest request = HopRequest(0.0, 0.0);
  const auto audit = AuditGait({request.robot, request.surface, request.gait, nullptr});
  ASSERT_THAT(audit, test::IsOk());
  const v1::Spread spread = SpreadOf(request);
  EXPECT_EQ(spread.replay_count(), 6);
  EXPECT_EQ(spread.mean_m(), audit->replay().rise_m());
  EXPECT_EQ(spread.p05_m(), audit->replay().rise_m());
  EXPECT_EQ(spread.least_m(), audit->replay().rise_m());
  EXPECT_EQ(spread.deviation_m(), 0.0);
  EXPECT_EQ(spread.fall_ratio(), 0.0);
}

TEST(SpreadTest, GrowsWithTheUncertainty) {
  const v1::Spread narrow = SpreadOf(HopRequest(0.005, 0.005));
  const v1::Spread wide = SpreadOf(HopRequest(0.02, 0.02));
  EXPECT_GT(narrow.deviation_m(), 1e-9);
  EXPECT_GT(wide.deviation_m(), 2.0 * narrow.deviation_m());
  EXPECT_LT(wide.least_m(), narrow.least_m());
}

TEST(SpreadTest, DependsOnTheNumberAndNotOnThreads) {
  SpreadRequest request = HopRequest(0.02, 0.02);
  request.rng = 5;
  const v1::Spread one = SpreadOf(request);
  request.thread_count = 2;
  EXPECT_EQ(SpreadOf(request).DebugString(), one.DebugString());
  request.rng = 6;
  EXPECT_NE(SpreadOf(request).mean_m(), one.mean_m());
}

TEST(SpreadTest, ReplaysAsManyCyclesAsAsked) {
  SpreadRequest request;
  request.robot = test::MakeQuadruped();
  request.surface = test::MakeSurface(0.0);
  request.gait = test::MakeCoasting(request.robot, request.surface);
  request.replay_count = 2;
  request.cycle_count = 2;
  std::atomic<int> calls{0};
  request.on_replay = [&] { ++calls; };
  // Without friction nothing that is drawn matters to a body that coasts.
  EXPECT_NEAR(SpreadOf(request).mean_m(), 0.009, 1e-5);
  EXPECT_EQ(calls, 2);
}

TEST(SpreadTest, TakesPercentileAndDeviationOfAKnownSample) {
  // Strides 1 to 21 mm, shuffled. Position 0.05 * 20 = 1 of the sorted values is 2 mm; the
  // deviation of 1 ... n with n - 1 in the denominator is sqrt(n (n + 1) / 12).
  std::vector<DrawnReplay> replays;
  for (int i = 0; i < 21; ++i) {
    replays.push_back({1e-3 * (1 + (8 * i) % 21), false});
  }
  const v1::Spread spread = SummarizeSpread(replays, 1.0);
  EXPECT_EQ(spread.replay_count(), 21);
  EXPECT_NEAR(spread.mean_m(), 0.011, 1e-15);
  EXPECT_NEAR(spread.deviation_m(), 1e-3 * std::sqrt(21.0 * 22.0 / 12.0), 1e-15);
  EXPECT_NEAR(spread.p05_m(), 0.002, 1e-15);
  EXPECT_NEAR(spread.least_m(), 0.001, 1e-15);
}

TEST(SpreadTest, InterpolatesThePercentile) {
  // Position 0.05 * 4 = 0.2 between 1 and 2 mm.
  const v1::Spread spread = SummarizeSpread(
      {{0.004, false}, {0.002, false}, {0.005, false}, {0.001, false}, {0.003, false}}, 1.0);
  EXPECT_NEAR(spread.p05_m(), 0.0012, 1e-15);
}

TEST(SpreadTest, CountsFromTheShortEndOfABackwardPlan) {
  const v1::Spread spread = SummarizeSpread({{-0.009, false}, {-0.007, false}}, -0.008);
  EXPECT_NEAR(spread.least_m(), -0.007, 1e-15);
  EXPECT_NEAR(spread.p05_m(), -0.0071, 1e-15);
  EXPECT_NEAR(spread.mean_m(), -0.008, 1e-15);
}

TEST(SpreadTest, CountsAFallAsNoStride) {
  const v1::Spread spread = SummarizeSpread({{0.008, false}, {0.0, true}}, 1.0);
  EXPECT_EQ(spread.fall_ratio(), 0.5);
  EXPECT_NEAR(spread.mean_m(), 0.004, 1e-15);
  EXPECT_EQ(spread.least_m(), 0.0);
}

TEST(SpreadTest, RejectsNoReplaysAndStopsWhenAsked) {
  SpreadRequest request = HopRequest(0.0, 0.0);
  request.replay_count = 0;
  EXPECT_THAT(
      ComputeSpread(request),
      test::HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("replay_count is 0")));
  request.replay_count = 2;
  const std::atomic<bool> stop = true;
  request.stop = &stop;
  EXPECT_EQ(ComputeSpread(request).status().code(), absl::StatusCode::kCancelled);
}

}  // namespace
}  // namespace gaitshelf::solver
