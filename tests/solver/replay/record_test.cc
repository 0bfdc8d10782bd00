#include "solver/replay/record.h"

#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/solver/replay/made_gaits.h"
#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

RecordRequest CoastingRequest() {
  RecordRequest request;
  request.robot = test::MakeQuadruped();
  request.surface = test::MakeSurface(0.0);
  request.gait = test::MakeCoasting(request.robot, request.surface);
  request.cycle_count = 3;
  return request;
}

TEST(RecordReplayTest, WritesDownWhatTheReplayReports) {
  const auto recording = RecordReplay(CoastingRequest());
  ASSERT_THAT(recording, test::IsOk());
  ASSERT_EQ(recording->simulated.trouble, "");
  EXPECT_EQ(recording->step_s, recording->simulated.report.step_s());
  const auto per_cycle =
      static_cast<Eigen::Index>(std::lround(1.0 / 12.0 / recording->simulated.report.step_s()));
  ASSERT_EQ(recording->sample_count(), 3 * per_cycle);
  EXPECT_NEAR(recording->body_pose(0, 2 * per_cycle - 1) - recording->body_pose(0, per_cycle - 1),
              recording->simulated.report.cycle_advance_m(1),
              1e-12);
  EXPECT_DOUBLE_EQ(recording->voltage_v.maxCoeff(), recording->simulated.report.peak_voltage_v());
}

// The weight stands on the feet, and these stand where body and legs put them: 15 mm ahead of the
// middle, 17.5 mm aside, on the surface.
TEST(RecordReplayTest, IsInSiUnits) {
  const auto recording = RecordReplay(CoastingRequest());
  ASSERT_THAT(recording, test::IsOk());
  double load_n = 0.0;
  for (int foot = 0; foot < 4; ++foot) {
    load_n += recording->foot_force_n.row(3 * foot + 2).mean();
  }
  EXPECT_NEAR(load_n, 1.9e-3 * 9.81, 0.02 * load_n);
  const Eigen::Index last = recording->sample_count() - 1;
  EXPECT_NEAR(recording->body_pose(2, last), 0.011, 1e-4);
  EXPECT_NEAR(recording->foot_position_m(0, last) - recording->body_pose(0, last), 0.015, 1e-4);
  EXPECT_NEAR(recording->foot_position_m(1, last), 0.0175, 1e-4);
  EXPECT_NEAR(recording->foot_position_m(2, last), 0.0, 1e-5);
  EXPECT_LT(recording->leg_position_m.cwiseAbs().maxCoeff(), 0.0045);
}

TEST(RecordReplayTest, AClampedBodyStandsStill) {
  RecordRequest request = CoastingRequest();
  request.robot.mutable_body()->set_support(v1::BODY_SUPPORT_CLAMPED);
  request.robot.mutable_body()->set_clamp_height_m(0.02);
  const auto recording = RecordReplay(request);
  ASSERT_THAT(recording, test::IsOk());
  ASSERT_GT(recording->sample_count(), 1200);  // more than one growth
  EXPECT_EQ(recording->body_pose.row(0).cwiseAbs().maxCoeff(), 0.0);
  EXPECT_EQ(recording->body_pose.row(2).minCoeff(), 0.02);
  EXPECT_EQ(recording->body_pose.row(2).maxCoeff(), 0.02);
}

TEST(RecordReplayTest, RefusesAGaitThatDoesNotFit) {
  RecordRequest request = CoastingRequest();
  request.gait.mutable_voltage_v()->RemoveLast();
  EXPECT_THAT(RecordReplay(request),
              test::HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("voltage_v")));
}

TEST(RecordReplayTest, StopsWhenTold) {
  RecordRequest request = CoastingRequest();
  const std::atomic<bool> stop = true;
  request.stop = &stop;
  EXPECT_THAT(RecordReplay(request),
              test::HasStatus(absl::StatusCode::kCancelled, testing::HasSubstr("stopped")));
}

}  // namespace
}  // namespace gaitshelf::solver
