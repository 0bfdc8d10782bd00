// Covers solver/measure/stride_effects.cc
#include "solver/measure/compare_trial.h"

#include <algorithm>
#include <cmath>
#include <memory>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "solver/measure/analyse_trial.h"
#include "solver/measure/check_trial.h"
#include "solver/replay/hand_tuned.h"
#include "tests/support/recorded_trial.h"
#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using testing::HasSubstr;

constexpr double kDelayS = 0.0123;

// A gait whose legs and feet are those of a plan, replayed on a robot that may be another.
class CompareTrialTest : public testing::Test {
 protected:
  void SetUp() override {
    HandTunedRequest request;
    request.robot = robot_;
    request.surface = surface_;
    request.order.set_robot(robot_.name());
    request.order.set_surface(surface_.name());
    request.order.set_stride_frequency_hz(12.0);
    request.order.mutable_task()->mutable_advance()->set_advance_m(0.006);
    gait_ = MakeHandTunedGait(request, {}).value();
    gait_.set_name("g-1");
    gait_.mutable_audit()->mutable_replay()->set_advance_m(0.0055);
    gait_.mutable_audit()->mutable_hand_tuned()->set_advance_m(0.004);
    gait_.mutable_audit()->mutable_hand_tuned()->set_accepted_count(1);
    plan_ = std::make_unique<PlannedCycle>(
        PlannedCycle::Create({.robot = robot_, .surface = surface_, .gait = gait_}).value());
  }

  v1::TrialComparison CompareWith(const v1::Robot& robot, double friction) {
    RecordRequest request;
    request.robot = robot;
    request.surface = test::MakeSurface(friction);
    request.gait = gait_;
    request.cycle_count = 10;
    recording_ = RecordReplay(request).value();
    EXPECT_EQ(recording_.simulated.trouble, "");
    test::RecordedTrial recorded = test::MakeRecordedTrial(
        recording_,
        gait_,
        {.weight_n = plan_->model().total_mass() * kGravityMPerS2, .tracking_delay_s = kDelayS});
    const Violations faults = ResolveTrial(PartsOf(robot_), &recorded.trial);
    EXPECT_TRUE(faults.empty()) << faults[0].field();
    TrialTable table(&recorded.trial);
    for (const v1::TrialBlock& block : recorded.blocks) {
      table.Add(block);
    }
    table.Finish();
    v1::AnalysisOptions options;
    options.set_greatest_delay_s(0.05);
    const v1::TrialAnalysis analysis =
        AnalyseTrial({.table = &table, .gait = &gait_, .plan = plan_.get(), .options = options});
    return CompareTrial(analysis, gait_, *plan_);
  }

  v1::Robot robot_ = test::MakeQuadruped();
  v1::Surface surface_ = test::MakeSurface(0.6);
  v1::Gait gait_;
  std::unique_ptr<PlannedCycle> plan_;
  Recording recording_;
};

const v1::ComparedFigure& FigureOf(const std::string& name, const v1::TrialComparison& comparison) {
  return *std::find_if(comparison.figures().begin(),
                       comparison.figures().end(),
                       [&](const auto& figure) { return figure.figure() == name; });
}

double EffectOf(v1::DifferenceKind kind, const v1::TrialComparison& comparison) {
  double sum_m = 0.0;
  for (const v1::TrialDifference& difference : comparison.differences()) {
    sum_m += difference.kind() == kind ? difference.effect_m() : 0.0;
  }
  return sum_m;
}

TEST_F(CompareTrialTest, MeasuresTheReplayItself) {
  const v1::TrialComparison comparison = CompareWith(robot_, 0.6);
  const v1::TrialAnalysis& analysis = comparison.analysis();
  ASSERT_EQ(analysis.delay().outcome(), v1::DELAY_OUTCOME_FOUND) << analysis.delay().reason();
  // A leg of straight directions: its foot in the frame of the body moves as its coordinates do.
  EXPECT_NEAR(analysis.delay().delay_s(), kDelayS, 2e-5);
  const v1::ReplayReport& report = recording_.simulated.report;
  // The log begins within the first cycle, whose start is not in it, and the second is left out.
  ASSERT_EQ(analysis.cycle_stride_m_size(), 7);
  for (int i = 0; i < 7; ++i) {
    // The delay's error moves both ends of a cycle.
    EXPECT_NEAR(analysis.cycle_stride_m(i), report.cycle_advance_m(i + 2), 2e-5);
  }
  EXPECT_NEAR(analysis.peak_voltage_v(), report.peak_voltage_v(), 2.0);
  EXPECT_NEAR(FigureOf("stride", comparison).measured_si(), analysis.stride_m().mean_si(), 0.0);
  EXPECT_EQ(FigureOf("stride", comparison).planned_si(), gait_.advance_m());
  EXPECT_EQ(FigureOf("stride", comparison).replayed_si(), 0.0055);
  EXPECT_EQ(FigureOf("stride", comparison).hand_tuned_si(), 0.004);
  EXPECT_NEAR(FigureOf("speed", comparison).planned_si(), 12.0 * gait_.advance_m(), 1e-12);
  EXPECT_NEAR(
      comparison.stride_difference_m(), analysis.stride_m().mean_si() - gait_.advance_m(), 1e-15);
}

TEST_F(CompareTrialTest, SetsLimbPhasesAndErrorsOfLegsBesideThePlan) {
  const v1::TrialComparison comparison = CompareWith(robot_, 0.6);
  const v1::ComparedFigure& phase = FigureOf("limb phase leg-1", comparison);
  // leg-3 is behind leg-1. A trot: half a cycle, of the plan exactly.
  EXPECT_NEAR(phase.planned_si(), 0.5, 1.0 / gait_.knot_count() + 1e-9);
  EXPECT_NEAR(phase.measured_si(), phase.planned_si(), 0.1);
  EXPECT_TRUE(phase.has_deviation_si());
  const v1::ComparedFigure& error = FigureOf("error leg-4 swing", comparison);
  EXPECT_EQ(error.measured_si(), comparison.analysis().legs(3).swing().rms_m());
  EXPECT_GT(error.measured_si(), 0.0);
  EXPECT_EQ(error.planned_si(), 0.0);
}

TEST_F(CompareTrialTest, DifferencesAddUpAndAreRanked) {
  const v1::TrialComparison comparison = CompareWith(robot_, 0.6);
  ASSERT_FALSE(comparison.differences().empty());
  double sum_m = comparison.unexplained_m();
  double last_m = 1.0;
  for (const v1::TrialDifference& difference : comparison.differences()) {
    sum_m += difference.effect_m();
    EXPECT_LE(std::abs(difference.effect_m()), last_m);
    last_m = std::abs(difference.effect_m());
    EXPECT_THAT(difference.text(), HasSubstr("planned"));
  }
  EXPECT_NEAR(sum_m, comparison.stride_difference_m(), 1e-12);
}

// Weak drives of the swing: legs sweep less, and that is what the stride loses.
TEST_F(CompareTrialTest, ExplainsWeakLegs) {
  const v1::TrialComparison good = CompareWith(robot_, 0.6);
  v1::Robot weak = robot_;
  for (v1::Leg& leg : *weak.mutable_legs()) {
    v1::Bimorph* bimorph = leg.mutable_lumped()->mutable_swing()->mutable_bimorph();
    bimorph->set_gain_n_per_v(0.6 * bimorph->gain_n_per_v());
  }
  weak.mutable_leg_controller()->set_swing_gain_v_per_m(0.0);
  const v1::TrialComparison comparison = CompareWith(weak, 0.6);
  const double lost_m = comparison.stride_difference_m() - good.stride_difference_m();
  const double explained_m = EffectOf(v1::DIFFERENCE_KIND_LEG_MOTION, comparison) -
                             EffectOf(v1::DIFFERENCE_KIND_LEG_MOTION, good);
  EXPECT_LT(lost_m, -0.0005);
  EXPECT_NEAR(explained_m / lost_m, 1.0, 0.5);
  EXPECT_LT(std::abs(comparison.unexplained_m()), 0.04 * gait_.advance_m());
}

// What legs, contacts and slides explain is nearly all, on rough ground and on ice.
TEST_F(CompareTrialTest, LeavesLittleUnexplained) {
  for (const double friction : {0.6, 0.3, 0.1, 0.02}) {
    const v1::TrialComparison comparison = CompareWith(robot_, friction);
    // 4 % of the stride of 6 mm; the differences themselves go from 0.4 to 1.1 mm.
    EXPECT_LT(std::abs(comparison.unexplained_m()), 0.04 * gait_.advance_m()) << friction;
  }
}

TEST_F(CompareTrialTest, FeetSlideOnIce) {
  const v1::TrialComparison comparison = CompareWith(robot_, 0.02);
  EXPECT_GT(std::abs(EffectOf(v1::DIFFERENCE_KIND_SLIP, comparison)),
            10.0 * std::abs(EffectOf(v1::DIFFERENCE_KIND_LEG_MOTION, comparison)));
  EXPECT_NE(comparison.differences(0).kind(), v1::DIFFERENCE_KIND_LEG_MOTION);
}

}  // namespace
}  // namespace gaitshelf::solver
