#include "clients/cli/trial_text.h"

#include <sstream>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace gaitshelf::client {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using testing::Not;

v1::TrialAnalysis MakeAnalysis() {
  v1::TrialAnalysis analysis;
  analysis.set_trial("t-1");
  analysis.set_cycle_source(v1::CYCLE_SOURCE_PHASE);
  for (int i = 0; i < 11; ++i) {
    analysis.add_cycle_start_s(0.1 * i);
  }
  analysis.mutable_stride_m()->set_mean_si(0.007);
  analysis.mutable_stride_m()->set_deviation_si(0.0001);
  analysis.mutable_stride_m()->set_count(11);
  analysis.mutable_delay()->set_outcome(v1::DELAY_OUTCOME_FOUND);
  analysis.mutable_delay()->set_delay_s(0.0123);
  analysis.mutable_cost()->set_cost_ratio(7.66);
  analysis.mutable_cost()->set_power_w(0.01);
  analysis.mutable_cost()->set_power_kind(v1::POWER_KIND_LOGGED);
  v1::FootAnalysis* foot = analysis.add_feet();
  foot->set_foot("front-left");
  foot->mutable_duty_ratio()->set_count(11);
  foot->mutable_duty_ratio()->set_mean_si(0.6);
  v1::LegAnalysis* leg = analysis.add_legs();
  leg->set_leg("front-left");
  leg->mutable_swing()->set_rms_m(0.0001);
  leg->mutable_swing()->set_gain_ratio(0.9);
  v1::AnalysisNote* note = analysis.add_notes();
  note->set_subject("drift_m");
  note->set_text(
      "a note that goes on and on until it does not fit into a line of a terminal any more");
  return analysis;
}

void ExpectNarrow(const std::string& text) {
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    EXPECT_LE(line.size(), 80U) << line;
  }
}

TEST(TrialTextTest, ShowsAnAnalysis) {
  const std::string text = AnalysisText(MakeAnalysis());
  EXPECT_THAT(text,
              AllOf(HasSubstr("11, by phase"),
                    HasSubstr("7.000 mm, spread 0.100 mm, 11 cycles"),
                    HasSubstr("12.300 ms"),
                    HasSubstr("10 mW, as logged"),
                    HasSubstr("drift              not measured"),
                    HasSubstr("0.900"),
                    HasSubstr("note: a note")));
  ExpectNarrow(text);
}

TEST(TrialTextTest, ShowsAComparison) {
  v1::TrialComparison comparison;
  *comparison.mutable_analysis() = MakeAnalysis();
  comparison.set_gait("g-1");
  v1::ComparedFigure* figure = comparison.add_figures();
  figure->set_figure("touchdowns per cycle front-left");
  figure->set_unit("m");
  figure->set_measured_si(0.007);
  figure->set_planned_si(0.009);
  v1::TrialDifference* difference = comparison.add_differences();
  difference->set_text(
      "leg 'front-left' sweeps 3.000 mm back while it should stand, planned 4.000 mm; that makes "
      "the stride 0.500 mm less");
  comparison.set_stride_difference_m(-0.002);
  comparison.set_unexplained_m(0.0001);
  const std::string text = ComparisonText(comparison);
  EXPECT_THAT(text,
              AllOf(HasSubstr("7.000"),
                    HasSubstr("9.000"),
                    HasSubstr("  1. leg 'front-left'"),
                    HasSubstr("-2.000 mm, of which unexplained 0.100 mm")));
  ExpectNarrow(text);
}

TEST(TrialTextTest, ShowsATrialAndAList) {
  v1::Trial trial;
  trial.set_name("t-0123456789abcdef0123456789abcdef");
  trial.set_kind(v1::TRIAL_KIND_GAIT);
  trial.set_title("first run with the new feet");
  trial.set_robot("weevil");
  trial.set_is_invented(true);
  trial.mutable_measure_time()->set_seconds(1795876200);
  v1::TrialGroup* group = trial.add_groups();
  group->set_name("board");
  group->set_clock(v1::TRIAL_CLOCK_ON_BOARD);
  group->set_row_count(12);
  group->set_sample_rate_hz(1000.0);
  group->add_columns()->set_label("phase");
  EXPECT_THAT(TrialText(trial),
              AllOf(HasSubstr("log board, clock"),
                    HasSubstr("12 rows, 1000 Hz"),
                    HasSubstr("  phase"),
                    HasSubstr("invented"),
                    HasSubstr("2026-11-28T14:30:00Z\n"),
                    Not(HasSubstr("gait  g"))));
  v1::ListTrialsResponse list;
  *list.add_trials() = trial;
  EXPECT_THAT(TrialTable(list), AllOf(HasSubstr("weevil"), HasSubstr("first run wit...")));
  ExpectNarrow(TrialTable(list));
}

}  // namespace
}  // namespace gaitshelf::client
