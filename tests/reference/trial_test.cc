// Trials against synthetic footfalls and signals with known answers, computed apart from this
// program.
#include <cmath>
#include <fstream>
#include <numbers>
#include <sstream>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "solver/measure/delay.h"
#include "tests/solver/measure/walker.h"

namespace gaitshelf::solver {
namespace {

using Rows = std::vector<std::vector<double>>;

Rows ReadRows(const std::string& name) {
  std::ifstream file(std::string(GAITSHELF_SOURCE_DIR "/tests/reference/data/") + name);
  Rows rows;
  std::string line;
  std::getline(file, line);  // heading
  while (std::getline(file, line)) {
    std::istringstream cells(line);
    std::vector<double>& row = rows.emplace_back();
    for (std::string cell; std::getline(cells, cell, ',');) {
      row.push_back(std::stod(cell));
    }
  }
  return rows;
}

// Time, body x and contacts in the order left hind, left fore, right hind, right fore.
v1::TrialAnalysis AnalyseFootfalls(const std::string& file, double frequency_hz) {
  const v1::Robot robot = test::MakeQuadruped();
  v1::Trial trial;
  trial.set_kind(v1::TRIAL_KIND_GAIT);
  trial.set_gait("g-1");
  trial.set_stride_frequency_hz(frequency_hz);
  test::AddGroup("log",
                 v1::TRIAL_CLOCK_TRACKING,
                 {"time [s]",
                  "body x [m]",
                  "leg-3 contact",
                  "leg-1 contact",
                  "leg-4 contact",
                  "leg-2 contact",
                  "power [mW]"},
                 &trial);
  EXPECT_TRUE(ResolveTrial(PartsOf(robot), &trial).empty());
  v1::TrialBlock block;
  for (const std::vector<double>& row : ReadRows(file)) {
    block.mutable_values_as_labelled()->Add(row.begin(), row.end());
    block.add_values_as_labelled(10.0);
  }
  TrialTable table(&trial);
  table.Add(block);
  table.Finish();
  const v1::Gait gait = test::MakeSineGait(robot, {.frequency_hz = frequency_hz});
  const PlannedCycle plan =
      PlannedCycle::Create({.robot = robot, .surface = test::MakeSurface(0.5), .gait = gait})
          .value();
  return AnalyseTrial({.table = &table, .gait = &gait, .plan = &plan});
}

void ExpectFootfalls(const v1::TrialAnalysis& analysis, double duty, double phase, double sample) {
  for (const v1::FootAnalysis& foot : analysis.feet()) {
    EXPECT_NEAR(foot.duty_ratio().mean_si(), duty, sample) << foot.foot();
  }
  for (int fore = 0; fore < 2; ++fore) {
    EXPECT_NEAR(analysis.feet(fore).limb_phase_ratio().mean_ratio(), phase, sample);
  }
}

// Definitions of duty factor and limb phase: M. Hildebrand, "Symmetrical gaits of horses", Science
// 150 (1965) 701-708. Data: a lateral-sequence walk and a trot at 50 mm/s, made apart from this
// program; tolerance one sample, f / fs.
TEST(TrialReferenceTest, FindsAWalk) {
  const v1::TrialAnalysis analysis = AnalyseFootfalls("trial_walk_LS.csv", 5.0);
  ExpectFootfalls(analysis, 0.70, 0.25, 5.0 / 500.0 + 1e-9);
  EXPECT_GE(analysis.stride_m().count(), 7);
  for (const double stride_m : analysis.cycle_stride_m()) {
    EXPECT_NEAR(stride_m, 0.010, 1e-6);
  }
}

TEST(TrialReferenceTest, FindsATrot) {
  const v1::TrialAnalysis analysis = AnalyseFootfalls("trial_trot.csv", 10.0);
  ExpectFootfalls(analysis, 0.50, 0.50, 10.0 / 1000.0 + 1e-9);
  // Positions have noise of 10 um: both ends of a stride, and a mean over some seventeen.
  EXPECT_NEAR(analysis.stride_m().mean_si(), 0.005, 4.0 * 1.5e-5 / std::sqrt(17.0));
  EXPECT_NEAR(analysis.stride_m().deviation_si(), std::sqrt(2.0) * 1e-5, 1e-5);
}

// P / (m g v) as in CostOfTransportReferenceTest: 10 mW at 1.9 g and 50 mm/s by hand, 0.01 /
// (0.0019
// * 9.81 * 0.05).
TEST(TrialReferenceTest, CostOfTransportIsPowerOverWeightAndSpeed) {
  const v1::TrialAnalysis analysis = AnalyseFootfalls("trial_walk_LS.csv", 5.0);
  EXPECT_EQ(analysis.cost().power_kind(), v1::POWER_KIND_LOGGED);
  EXPECT_NEAR(analysis.cost().cost_ratio(), 10.7302, 0.01 * 10.7302);
}

// Source of the method: C. H. Knapp, G. C. Carter, IEEE Trans. ASSP 24 (1976) 320-327. Data: a
// command of three tones in a window and the same 7.3 ms later, made apart from this program; the
// same correlation there was off by less than 1 us.
TEST(TrialReferenceTest, FindsADelayToAMicrosecond) {
  std::vector<double> command, measured;
  for (const std::vector<double>& row : ReadRows("delay_pair_7p3ms.csv")) {
    command.push_back(row[1]);
    measured.push_back(row[2]);
  }
  const v1::DelayEstimate estimate = EstimateDelay({.reference = command,
                                                    .delayed = measured,
                                                    .sample_period_s = 1e-3,
                                                    .greatest_delay_s = 0.05});
  ASSERT_EQ(estimate.outcome(), v1::DELAY_OUTCOME_FOUND) << estimate.reason();
  EXPECT_NEAR(estimate.delay_s(), 0.0073, 1e-6);
  EXPECT_NEAR(estimate.delay_s(), 0.0073, 4.0 * estimate.uncertainty_s());
}

// A pure delay tau of a sine leaves an error of sqrt(2) A |sin(omega tau / 2)|, root mean square:
// at 20 Hz and 2 ms 0.177248 A. Own derivation, by the sum of two sines.
TEST(TrialReferenceTest, TrackingErrorOfAPureDelay) {
  test::Walker walker;
  walker.sine.frequency_hz = 20.0;
  walker.leg_gain = 1.0;
  walker.leg_lag_s = 0.002;
  const v1::TrialAnalysis analysis =
      test::Walk(walker, {{"log", v1::TRIAL_CLOCK_ON_BOARD, 4000.0, {"phase", "leg-1 swing [mm]"}}})
          .Analyse();
  const v1::TrackingError& swing = analysis.legs(0).swing();
  // The plan's cubic through 40 knots is within 1e-4 of the sine.
  EXPECT_NEAR(swing.rms_m() / 0.001, 0.177248, 3e-4);
  EXPECT_NEAR(swing.lag_s(), 0.002, 1e-5);
  EXPECT_NEAR(swing.gain_ratio(), 1.0, 1e-3);
}

}  // namespace
}  // namespace gaitshelf::solver
