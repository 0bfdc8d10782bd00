// Covers solver/measure/body_figures.cc
// Covers solver/measure/foot_figures.cc
// Covers solver/measure/foot_path.cc
// Covers solver/measure/leg_figures.cc
// Covers solver/measure/mean_cycle.cc
// Covers solver/measure/stances.cc
#include "solver/measure/analyse_trial.h"

#include <cmath>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "absl/strings/str_cat.h"
#include "tests/solver/measure/walker.h"

namespace gaitshelf::solver {
namespace {

using testing::Contains;
using testing::HasSubstr;
using testing::IsEmpty;

v1::AnalysisOptions LagBelow(double greatest_delay_s) {
  v1::AnalysisOptions options;
  options.set_greatest_delay_s(greatest_delay_s);
  return options;
}

std::vector<std::string> NotesOn(const std::string& subject, const v1::TrialAnalysis& analysis) {
  std::vector<std::string> texts;
  for (const v1::AnalysisNote& note : analysis.notes()) {
    if (note.subject() == subject) {
      texts.push_back(note.text());
    }
  }
  return texts;
}

TEST(AnalyseTrialTest, FindsTheFiguresOfAKnownWalk) {
  const test::Walker walker;
  const v1::TrialAnalysis analysis = test::Walk(walker).Analyse(LagBelow(0.05));
  EXPECT_EQ(analysis.trial(), "t-1");
  EXPECT_EQ(analysis.analysis_version(), kAnalysisVersion);
  EXPECT_EQ(analysis.cycle_source(), v1::CYCLE_SOURCE_PHASE);
  ASSERT_EQ(analysis.cycle_start_s_size(), 11);  // of twelve the first is left out
  EXPECT_NEAR(analysis.cycle_start_s(0), 0.1, 1e-9);
  EXPECT_NEAR(analysis.cycle_end_s(10), 1.2, 1e-9);
  EXPECT_NEAR(analysis.stride_frequency_hz().mean_si(), 10.0, 1e-6);
  // The delay is 0 to a microsecond, and speed is 0.07 m/s: 1e-7 m.
  EXPECT_NEAR(analysis.stride_m().mean_si(), 0.007, 1e-7);
  EXPECT_LT(analysis.stride_m().deviation_si(), 1e-7);
  EXPECT_EQ(analysis.cycle_stride_m_size(), analysis.stride_m().count());
  EXPECT_NEAR(analysis.drift_m().mean_si(), 0.0002, 1e-7);
  EXPECT_NEAR(analysis.turn_rad().mean_si(), 0.0, 1e-9);
  EXPECT_NEAR(analysis.speed_m_per_s().mean_si(), 0.07, 1e-6);
  EXPECT_NEAR(analysis.peak_voltage_v(), 150.0, 0.1);
  EXPECT_EQ(analysis.sampling_size(), 2);
}

TEST(AnalyseTrialTest, FindsContactsAndSlipOfEachFoot) {
  const test::Walker walker;
  const v1::TrialAnalysis analysis = test::Walk(walker).Analyse(LagBelow(0.05));
  ASSERT_EQ(analysis.feet_size(), 4);
  for (int i = 0; i < 4; ++i) {
    const v1::FootAnalysis& foot = analysis.feet(i);
    const auto index = static_cast<std::size_t>(i);
    // One sample of 1 kHz in a cycle of 100 ms.
    EXPECT_NEAR(foot.duty_ratio().mean_si(), walker.duty[index], 0.01) << foot.foot();
    EXPECT_NEAR(foot.touchdown_phase_ratio().mean_ratio(), walker.touchdown[index], 0.01);
    EXPECT_GT(foot.touchdown_phase_ratio().resultant_ratio(), 0.999);
    EXPECT_DOUBLE_EQ(foot.touchdowns_per_cycle_ratio(), 1.0);
  }
  EXPECT_EQ(analysis.feet(0).foot_behind(), "leg-3");
  EXPECT_EQ(analysis.feet(1).foot_behind(), "leg-4");
  EXPECT_EQ(analysis.feet(2).foot_behind(), "");
  EXPECT_FALSE(analysis.feet(2).has_limb_phase_ratio());
  EXPECT_NEAR(analysis.feet(0).limb_phase_ratio().mean_ratio(), 0.25, 0.011);
  EXPECT_NEAR(analysis.feet(1).limb_phase_ratio().mean_ratio(), 0.25, 0.011);
  // The tracked foot: contact is known to half a millisecond, and in the air the foot does 0.18
  // mm/ms.
  EXPECT_NEAR(analysis.feet(0).slip_along_m().mean_si(), -0.0004, 1.5e-4);
  EXPECT_NEAR(analysis.feet(0).slip_m().mean_si(), 0.0004, 1.5e-4);
  // The others by body and leg.
  EXPECT_GT(analysis.feet(1).slip_m().count(), 5);
  EXPECT_THAT(NotesOn("feet.slip_m", analysis), Contains(HasSubstr("not tracked")));
}

TEST(AnalyseTrialTest, FindsGainAndLagOfLegs) {
  test::Walker walker;
  walker.leg_gain = 0.8;
  walker.leg_lag_s = 0.004;
  const v1::TrialAnalysis analysis = test::Walk(walker).Analyse(LagBelow(0.05));
  ASSERT_EQ(analysis.legs_size(), 4);
  for (const v1::LegAnalysis& leg : analysis.legs()) {
    EXPECT_NEAR(leg.swing().gain_ratio(), 0.8, 1e-3) << leg.leg();
    EXPECT_NEAR(leg.lift().lag_s(), 0.004, 1e-5) << leg.leg();
    EXPECT_NEAR(leg.lift().bias_m(), 0.0, 1e-6);
    EXPECT_GT(leg.lift().peak_m(), leg.lift().rms_m());
  }
}

TEST(AnalyseTrialTest, StatesThePowerOfTheCostOfTransport) {
  test::Walker walker;
  v1::TrialAnalysis analysis = test::Walk(walker).Analyse(LagBelow(0.05));
  EXPECT_EQ(analysis.cost().power_kind(), v1::POWER_KIND_LOGGED);
  EXPECT_NEAR(analysis.cost().power_w(), 0.01, 1e-9);
  // 1.884 g and four feet of 4 mg; 0.01 / (0.0019 * 9.81 * 0.07) by hand.
  EXPECT_NEAR(analysis.cost().cost_ratio(), 7.6645, 0.03);
  walker.stride_m = 0.0;
  walker.noise_m = 1e-5;
  analysis = test::Walk(walker).Analyse(LagBelow(0.05));
  EXPECT_FALSE(analysis.has_cost());
  EXPECT_THAT(NotesOn("cost", analysis), Contains(HasSubstr("not distinct from 0")));
  analysis = test::Walk(test::Walker(),
                        {{"tracking", v1::TRIAL_CLOCK_TRACKING, 500.0, test::TrackingLabels()}})
                 .Analyse();
  EXPECT_THAT(NotesOn("cost", analysis), Contains(HasSubstr("no power is known")));
}

// The logs of a walk, on board only the phase and what drives have.
std::vector<test::LogSpec> LogsOfDrives(const std::vector<std::string>& quantities) {
  std::vector<test::LogSpec> logs = test::BothLogs();
  logs[0].labels = {"phase"};
  for (const char* leg : {"leg-1", "leg-2", "leg-3", "leg-4"}) {
    for (const std::string& quantity : quantities) {
      logs[0].labels.push_back(absl::StrCat(leg, " lift ", quantity));
      logs[0].labels.push_back(absl::StrCat(leg, " swing ", quantity));
    }
  }
  return logs;
}

// Own derivation: what a drive's capacitance takes it gives back within the cycle, so that over a
// cycle only the leak is left, which takes the mean of the squared voltage: 100 V and a sine of
// 50 V about it.
TEST(AnalyseTrialTest, CountsWhatDrivesGiveBackWhereCurrentsWereLogged) {
  const test::Walker walker{.capacitance_f = 2e-9, .leak_s = 1e-8};
  const v1::TrialAnalysis analysis =
      test::Walk(walker, LogsOfDrives({"voltage [V]", "current [mA]"})).Analyse(LagBelow(0.05));
  EXPECT_EQ(analysis.cost().power_kind(), v1::POWER_KIND_NET_OF_RETURN);
  const double leaked_w = 8.0 * 1e-8 * (100.0 * 100.0 + 0.5 * 50.0 * 50.0);
  EXPECT_NEAR(analysis.cost().power_w(), leaked_w, 1e-3 * leaked_w);
}

// Own derivation: once a cycle, ten times a second, each of eight drives is loaded from 50 to
// 150 V. The log has no row at the very peaks, of which it misses less than a thousandth.
TEST(AnalyseTrialTest, CountsChargingWhereOnlyVoltagesWereLogged) {
  const test::Walker walker{.capacitance_f = 2e-9};
  const v1::TrialAnalysis analysis =
      test::Walk(walker, LogsOfDrives({"voltage [V]"})).Analyse(LagBelow(0.05));
  EXPECT_EQ(analysis.cost().power_kind(), v1::POWER_KIND_CHARGING);
  const double charging_w = 8.0 * 10.0 * 0.5 * 2e-9 * (150.0 * 150.0 - 50.0 * 50.0);
  EXPECT_NEAR(analysis.cost().power_w(), charging_w, 2e-3 * charging_w);
}

TEST(AnalyseTrialTest, KnowsNoPowerFromVoltagesAlone) {
  const v1::TrialAnalysis analysis =
      test::Walk({}, LogsOfDrives({"voltage [V]"})).Analyse(LagBelow(0.05));
  EXPECT_THAT(NotesOn("cost", analysis), Contains(HasSubstr("no power is known")));
}

TEST(AnalyseTrialTest, TakesNoiseGapsAndALateTrackingSystem) {
  test::Walker walker;
  walker.cycle_count = 100;
  walker.noise_m = 2e-5;
  walker.missing_share = 0.02;
  walker.dropped_share = 0.02;
  walker.tracking_delay_s = 0.0183;
  const v1::TrialAnalysis analysis = test::Walk(walker).Analyse(LagBelow(0.05));
  ASSERT_EQ(analysis.delay().outcome(), v1::DELAY_OUTCOME_FOUND) << analysis.delay().reason();
  EXPECT_NEAR(analysis.delay().delay_s(), 0.0183, 4.0 * analysis.delay().uncertainty_s() + 2e-5);
  EXPECT_GT(analysis.stride_m().count(), 80);
  EXPECT_NEAR(analysis.stride_m().mean_si(), 0.007, 4.0 * analysis.stride_m().uncertainty_si());
  // Both ends of a stride carry the noise.
  EXPECT_NEAR(analysis.stride_m().deviation_si(), std::sqrt(2.0) * 2e-5, 1e-5);
  EXPECT_GT(analysis.sampling(0).dropped_count(), 50);
  EXPECT_GT(analysis.sampling(0).missing_count(), 50);
}

TEST(AnalyseTrialTest, DoesNotGuessAnAmbiguousDelay) {
  test::Walker walker;
  walker.tracking_delay_s = 0.0183;
  std::vector<test::LogSpec> logs = test::BothLogs();
  logs[1].labels = {"body x [mm]", "leg-1 contact"};
  logs[0].labels = {"leg-1 contact"};
  walker.cycle_count = 40;
  v1::AnalysisOptions options;
  options.set_left_out_count(3);  // the start comes late
  const v1::TrialAnalysis analysis = test::Walk(walker, logs).Analyse(options);
  EXPECT_EQ(analysis.delay().outcome(), v1::DELAY_OUTCOME_AMBIGUOUS);
  EXPECT_THAT(NotesOn("delay", analysis), Contains(HasSubstr("alike")));
  // A steady stride does not depend on it. Contact shows cycles to one sample in 38 cycles.
  EXPECT_NEAR(analysis.stride_m().mean_si(), 0.007 * std::cos(0.3) - 0.0002 * std::sin(0.3), 4e-6);
}

TEST(AnalyseTrialTest, SaysWhatWasNotMeasured) {
  const v1::TrialAnalysis analysis =
      test::Walk(test::Walker(),
                 {{"on-board", v1::TRIAL_CLOCK_ON_BOARD, 1000.0, {"leg-2 contact"}}})
          .Analyse();
  EXPECT_EQ(analysis.cycle_source(), v1::CYCLE_SOURCE_CONTACT);
  EXPECT_FALSE(analysis.has_stride_m());
  EXPECT_EQ(analysis.delay().outcome(), v1::DELAY_OUTCOME_UNSPECIFIED);
  EXPECT_THAT(NotesOn("stride_m", analysis), Contains(HasSubstr("not measured")));
  EXPECT_THAT(NotesOn("legs", analysis), Contains(HasSubstr("no leg")));
  EXPECT_THAT(NotesOn("cost", analysis), Contains(HasSubstr("speed")));
  EXPECT_FALSE(analysis.feet(0).has_duty_ratio());
  EXPECT_TRUE(analysis.feet(1).has_duty_ratio());
}

TEST(AnalyseTrialTest, MeanCycleIsTheMotion) {
  const test::Walker walker;
  const v1::TrialAnalysis analysis = test::Walk(walker).Analyse(LagBelow(0.05));
  const v1::MeanCycle& mean = analysis.mean_cycle();
  ASSERT_EQ(mean.leg_position_m_size(), mean.phase_count() * 8);
  ASSERT_EQ(mean.contact_ratio_size(), mean.phase_count() * 4);
  ASSERT_EQ(mean.body_position_m_size(), mean.phase_count() * 3);
  ASSERT_EQ(mean.voltage_v_size(), mean.phase_count() * 8);
  for (int b = 0; b < mean.phase_count(); ++b) {
    const double phase = static_cast<double>(b) / mean.phase_count();
    EXPECT_NEAR(mean.leg_position_m(8 * b + 3),
                0.9 * 0.001 * std::sin(2.0 * std::numbers::pi * (phase + 0.3)),
                2e-6);
    EXPECT_NEAR(mean.body_position_m(3 * b), 0.007 * phase, 1e-7);
    EXPECT_NEAR(mean.body_position_m(3 * b + 1), 0.0002 * phase, 1e-7);
  }
  EXPECT_EQ(mean.contact_ratio(4 * 32), 1.0);  // leg-1 stands from 0.1 to 0.7
  EXPECT_EQ(mean.contact_ratio(4 * 60), 0.0);
}

TEST(AnalyseTrialTest, RefusesBadOptions) {
  EXPECT_THAT(CheckAnalysisOptions({}), IsEmpty());
  v1::AnalysisOptions options = LagBelow(11.0);
  options.set_left_out_count(-1);
  EXPECT_EQ(CheckAnalysisOptions(options).size(), 2U);
}

TEST(AnalyseTrialTest, NeedsWholeCycles) {
  test::Walked walked = test::Walk(test::Walker());
  walked.trial->set_stride_frequency_hz(17.0);  // not what was played
  const v1::TrialAnalysis analysis = walked.Analyse(LagBelow(0.05));
  EXPECT_EQ(analysis.cycle_source(), v1::CYCLE_SOURCE_UNSPECIFIED);
  EXPECT_THAT(NotesOn("cycle_start_s", analysis), Contains(HasSubstr("12 cycles do not count")));
  EXPECT_FALSE(analysis.has_mean_cycle());
}

}  // namespace
}  // namespace gaitshelf::solver
