#include "service/library/gait_summary.h"

#include <gtest/gtest.h>

namespace gaitshelf::service {
namespace {

v1::Gait MakeGait() {
  v1::Gait gait;
  gait.set_name("g-1");
  gait.set_robot("weevil");
  gait.set_surface("duct-steel");
  gait.set_stride_frequency_hz(12.5);
  gait.mutable_task()->mutable_advance()->set_advance_m(0.009);
  gait.set_advance_m(0.009);
  gait.set_coordinate_count(14);
  gait.set_loop_equation_count(24);
  gait.set_compile_error_ratio(2e-7);
  gait.mutable_report()->set_solve_s(0.75);
  gait.mutable_audit()->set_verdict(v1::VERDICT_GOOD);
  gait.mutable_audit()->mutable_replay()->set_advance_m(0.0087);
  gait.mutable_audit()->mutable_replay()->set_peak_voltage_v(180.0);
  gait.mutable_audit()->mutable_residuals()->set_worst_ratio(4e-8);
  gait.mutable_audit()->mutable_spread()->set_p05_m(0.0081);
  gait.mutable_audit()->mutable_hand_tuned()->set_advance_m(0.0077);
  gait.mutable_provenance()->mutable_create_time()->set_seconds(1234567890);
  return gait;
}

TEST(GaitSummaryTest, TakesEveryFigureFromItsPlace) {
  const v1::GaitSummary summary = SummarizeGait(MakeGait());
  EXPECT_EQ(summary.name(), "g-1");
  EXPECT_EQ(summary.robot(), "weevil");
  EXPECT_EQ(summary.surface(), "duct-steel");
  EXPECT_EQ(summary.stride_frequency_hz(), 12.5);
  EXPECT_EQ(summary.task().advance().advance_m(), 0.009);
  EXPECT_EQ(summary.verdict(), v1::VERDICT_GOOD);
  EXPECT_EQ(summary.advance_m(), 0.009);
  EXPECT_EQ(summary.replayed_advance_m(), 0.0087);
  EXPECT_EQ(summary.rise_m(), 0.0);
  EXPECT_EQ(summary.peak_voltage_v(), 180.0);
  EXPECT_EQ(summary.worst_residual_ratio(), 4e-8);
  EXPECT_EQ(summary.solve_s(), 0.75);
  EXPECT_EQ(summary.create_time().seconds(), 1234567890);
  EXPECT_EQ(summary.coordinate_count(), 14);
  EXPECT_EQ(summary.loop_equation_count(), 24);
  EXPECT_EQ(summary.compile_error_ratio(), 2e-7);
  EXPECT_EQ(summary.spread_p05_m(), 0.0081);
  EXPECT_EQ(summary.hand_tuned_advance_m(), 0.0077);
}

TEST(GaitSummaryTest, NamesAllSurfacesAndTheWorstCaseOverThem) {
  v1::Gait gait = MakeGait();
  gait.add_also_on()->set_surface("felt");
  gait.add_also_on()->set_surface("tape");
  gait.mutable_audit()->set_worst_advance_error_ratio(0.04);
  const v1::GaitSummary summary = SummarizeGait(gait);
  ASSERT_EQ(summary.also_on_size(), 2);
  EXPECT_EQ(summary.also_on(1), "tape");
  EXPECT_EQ(summary.worst_advance_error_ratio(), 0.04);
}

TEST(GaitSummaryTest, GivesTheRiseOfAHop) {
  v1::Gait gait = MakeGait();
  gait.mutable_task()->mutable_hop()->set_rise_m(0.0095);
  gait.mutable_audit()->mutable_replay()->set_rise_m(0.0091);
  const v1::GaitSummary summary = SummarizeGait(gait);
  EXPECT_EQ(summary.rise_m(), 0.0095);
  EXPECT_EQ(summary.replayed_rise_m(), 0.0091);
}

TEST(GaitSummaryTest, AGaitWithoutAuditHasNoVerdict) {
  v1::Gait gait = MakeGait();
  gait.clear_audit();
  EXPECT_EQ(SummarizeGait(gait).verdict(), v1::VERDICT_UNSPECIFIED);
}

TEST(GaitSummaryTest, GivesTheReplayedTurnAndSidestepOfAGaitThatTurns) {
  v1::Gait gait = MakeGait();
  gait.mutable_audit()->mutable_replay()->set_turn_rad(0.09);
  EXPECT_EQ(SummarizeGait(gait).replayed_turn_rad(), 0.0) << "a straight gait only strays";
  gait.set_turn_rad(0.1);
  gait.mutable_audit()->mutable_replay()->set_sidestep_m(0.001);
  EXPECT_EQ(SummarizeGait(gait).replayed_turn_rad(), 0.09);
  EXPECT_EQ(SummarizeGait(gait).replayed_sidestep_m(), 0.001);
}

}  // namespace
}  // namespace gaitshelf::service
