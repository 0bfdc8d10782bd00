// Trials against synthetic footfalls and signals with known answers, computed apart from this
// program.
#include <cmath>
#include <fstream>
#include <numbers>
#include <random>
#include <sstream>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "solver/measure/delay.h"
#include "solver/replay/gait_track.h"
#include "tests/solver/measure/walker.h"
#include "tests/support/paths.h"

namespace gaitshelf::solver {
namespace {

using Rows = std::vector<std::vector<double>>;

Rows ReadRows(const std::string& name) {
  std::ifstream file(test::SourcePath("tests/reference/data/" + name));
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

// Rows of time, body x and contacts in the order left hind, left fore, right hind, right fore.
v1::TrialAnalysis AnalyseFootfalls(const Rows& rows, double frequency_hz) {
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
  for (const std::vector<double>& row : rows) {
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

// Footfalls at 50 mm/s by the definitions themselves: hind feet land at phases 0 and 1/2, fore feet
// later by the limb phase.
Rows MakeFootfalls(double frequency_hz, double duty, double limb_phase, double rate_hz) {
  Rows rows;
  for (int i = 0; i <= static_cast<int>(20.0 * rate_hz / frequency_hz); ++i) {
    const double time_s = i / rate_hz;
    std::vector<double>& row = rows.emplace_back(std::vector<double>{time_s, 0.05 * time_s});
    for (const double landing : {0.0, limb_phase, 0.5, 0.5 + limb_phase}) {
      // Off the grid of the samples by a third of one, so that no contact begins on a sample.
      const double phase = (time_s + 1.0 / (3.0 * rate_hz)) * frequency_hz - landing;
      row.push_back(phase - std::floor(phase) < duty ? 1.0 : 0.0);
    }
  }
  return rows;
}

void ExpectFootfalls(const v1::TrialAnalysis& analysis, double duty, double phase, double sample) {
  for (const v1::FootAnalysis& foot : analysis.feet()) {
    EXPECT_NEAR(foot.duty_ratio().mean_si(), duty, sample) << foot.foot();
  }
  for (int fore = 0; fore < 2; ++fore) {
    // The shorter way round: a pace sits where 0 and 1 meet.
    const double off = analysis.feet(fore).limb_phase_ratio().mean_ratio() - phase;
    EXPECT_NEAR(off - std::round(off), 0.0, sample);
  }
}

// Definitions of duty factor and limb phase: M. Hildebrand, "Symmetrical gaits of horses", Science
// 150 (1965) 701-708. Data: a lateral-sequence walk and a trot at 50 mm/s, made apart from this
// program; tolerance one sample, f / fs.
TEST(TrialReferenceTest, FindsAWalk) {
  const v1::TrialAnalysis analysis = AnalyseFootfalls(ReadRows("trial_walk_LS.csv"), 5.0);
  ExpectFootfalls(analysis, 0.70, 0.25, 5.0 / 500.0 + 1e-9);
  EXPECT_GE(analysis.stride_m().count(), 7);
  for (const double stride_m : analysis.cycle_stride_m()) {
    EXPECT_NEAR(stride_m, 0.010, 1e-6);
  }
}

TEST(TrialReferenceTest, FindsATrot) {
  const v1::TrialAnalysis analysis = AnalyseFootfalls(ReadRows("trial_trot.csv"), 10.0);
  ExpectFootfalls(analysis, 0.50, 0.50, 10.0 / 1000.0 + 1e-9);
  // Positions have noise of 10 um: both ends of a stride, and a mean over some seventeen.
  EXPECT_NEAR(analysis.stride_m().mean_si(), 0.005, 4.0 * 1.5e-5 / std::sqrt(17.0));
  EXPECT_NEAR(analysis.stride_m().deviation_si(), std::sqrt(2.0) * 1e-5, 1e-5);
}

// Gaits by their limb phase (caption of figure 2 in Journal of Experimental Biology 209 (2006)
// 2042): a pace near 0 or 1, a trot near one half, a walk in lateral sequence below, one in
// diagonal sequence above. Duty factor above one half for a walk, below for a run (Hildebrand).
TEST(TrialReferenceTest, FindsAPace) {
  const v1::TrialAnalysis analysis = AnalyseFootfalls(MakeFootfalls(20.0, 0.45, 0.0, 1000.0), 20.0);
  ExpectFootfalls(analysis, 0.45, 0.0, 20.0 / 1000.0 + 1e-9);
  EXPECT_NEAR(analysis.stride_m().mean_si(), 0.05 / 20.0, 1e-6);
  EXPECT_GT(analysis.feet(0).limb_phase_ratio().resultant_ratio(), 0.99);
}

TEST(TrialReferenceTest, FindsAWalkInDiagonalSequence) {
  const v1::TrialAnalysis analysis = AnalyseFootfalls(MakeFootfalls(4.0, 0.65, 0.75, 500.0), 4.0);
  ExpectFootfalls(analysis, 0.65, 0.75, 4.0 / 500.0 + 1e-9);
  EXPECT_NEAR(analysis.stride_m().mean_si(), 0.05 / 4.0, 1e-6);
}

// P / (m g v) as in CostOfTransportReferenceTest: 10 mW at 1.9 g and 50 mm/s by hand, 0.01 /
// (0.0019
// * 9.81 * 0.05).
TEST(TrialReferenceTest, CostOfTransportIsPowerOverWeightAndSpeed) {
  const v1::TrialAnalysis analysis = AnalyseFootfalls(ReadRows("trial_walk_LS.csv"), 5.0);
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

// Three tones under a window at 1 kHz, delayed by less than and by parts of a sample, as in a
// computation apart from this program whose errors were below 1 us without noise and below 0.1 ms
// with noise of a tenth.
TEST(TrialReferenceTest, FindsDelaysOfThreeTonesInNoise) {
  std::mt19937 generator(5);
  std::normal_distribution<double> normal(0.0, 1.0);
  const auto signal = [](double time_s) {
    const double window = std::exp(-std::pow((time_s - 0.5) / 0.15, 2));
    return window * (std::sin(2.0 * std::numbers::pi * 7.0 * time_s) +
                     0.7 * std::sin(2.0 * std::numbers::pi * 13.3 * time_s + 0.4) +
                     0.4 * std::sin(2.0 * std::numbers::pi * 31.0 * time_s + 1.0));
  };
  for (const double delay_s : {0.0, 0.003, 0.0073, 0.01275}) {
    for (const double noise : {0.0, 0.1}) {
      std::vector<double> command, measured;
      for (int i = 0; i < 1000; ++i) {
        command.push_back(signal(1e-3 * i));
        measured.push_back(signal(1e-3 * i - delay_s) + noise * normal(generator));
      }
      const v1::DelayEstimate estimate = EstimateDelay({.reference = command,
                                                        .delayed = measured,
                                                        .sample_period_s = 1e-3,
                                                        .greatest_delay_s = 0.05});
      ASSERT_EQ(estimate.outcome(), v1::DELAY_OUTCOME_FOUND) << estimate.reason();
      EXPECT_NEAR(estimate.delay_s(), delay_s, noise > 0.0 ? 1e-4 : 1e-6) << noise;
    }
  }
}

// A sine is the same after every whole period: no method can tell which.
TEST(TrialReferenceTest, RefusesToTellTheDelayOfASine) {
  std::vector<double> command, measured;
  for (int i = 0; i < 2000; ++i) {
    command.push_back(std::sin(2.0 * std::numbers::pi * 10.0 * 1e-3 * i));
    measured.push_back(std::sin(2.0 * std::numbers::pi * 10.0 * (1e-3 * i - 0.0073)));
  }
  const v1::DelayEstimate estimate =
      EstimateDelay({.reference = command, .delayed = measured, .sample_period_s = 1e-3});
  EXPECT_EQ(estimate.outcome(), v1::DELAY_OUTCOME_AMBIGUOUS);
  ASSERT_FALSE(estimate.rival_s().empty());
  for (const double rival_s : estimate.rival_s()) {
    const double periods = (rival_s - 0.0073) * 10.0;
    EXPECT_NEAR(periods, std::round(periods), 0.01) << rival_s;
  }
}

// A leg that follows its plan as a first-order lag with the corner frequency fc: gain
// 1 / sqrt(1 + (f / fc)^2), phase -atan(f / fc). The leg itself is stepped through its differential
// equation, y' = 2 pi fc (u - y).
TEST(TrialReferenceTest, LegWithAFirstOrderLagHasItsGainAndPhase) {
  struct Case {
    double f_over_fc, gain, phase_deg;
  };
  constexpr double kFrequencyHz = 10.0, kRateHz = 4000.0;
  for (const Case& c : {Case{0.1, 0.9950371902099893, -5.710593137499643},
                        Case{0.5, 0.8944271909999159, -26.56505117707799},
                        Case{1.0, 0.7071067811865475, -45.0},
                        Case{2.0, 0.4472135954999579, -63.43494882292201}}) {
    const double corner = 2.0 * std::numbers::pi * kFrequencyHz / c.f_over_fc;
    const v1::Robot robot = test::MakeQuadruped();
    v1::Trial trial;
    trial.set_kind(v1::TRIAL_KIND_GAIT);
    trial.set_gait("g-1");
    trial.set_stride_frequency_hz(kFrequencyHz);
    test::AddGroup(
        "log", v1::TRIAL_CLOCK_ON_BOARD, {"time [s]", "phase", "leg-1 swing [m]"}, &trial);
    ASSERT_TRUE(ResolveTrial(PartsOf(robot), &trial).empty());
    v1::TrialBlock block;
    double y = 0.0;
    for (int i = 0; i < 8000; ++i) {
      const double cycles = i * kFrequencyHz / kRateHz;
      // Ten steps a sample of the midpoint rule: off by (corner / 40000)^2 / 12 at most.
      for (int step = 0; step < 10 && i > 0; ++step) {
        const double at = cycles + (step - 9.5) * 0.1 * kFrequencyHz / kRateHz;
        const double u = 0.001 * std::sin(2.0 * std::numbers::pi * (at + 0.1));
        const double h = 0.1 * corner / kRateHz;
        y += h / (1.0 + 0.5 * h) * (u - y);
      }
      for (const double value : {i / kRateHz, cycles - std::floor(cycles), y}) {
        block.add_values_as_labelled(value);
      }
    }
    TrialTable table(&trial);
    table.Add(block);
    table.Finish();
    const v1::Gait gait = test::MakeSineGait(robot, {.frequency_hz = kFrequencyHz});
    const PlannedCycle plan =
        PlannedCycle::Create({.robot = robot, .surface = test::MakeSurface(0.5), .gait = gait})
            .value();
    v1::AnalysisOptions options;
    options.set_left_out_count(10);  // the lag's own start has died away
    const v1::TrialAnalysis analysis =
        AnalyseTrial({.table = &table, .gait = &gait, .plan = &plan, .options = options});
    const v1::TrackingError& swing = analysis.legs(0).swing();
    // The plan's cubic through 40 knots is within 1e-4 of the sine.
    EXPECT_NEAR(swing.gain_ratio(), c.gain, 5e-4) << c.f_over_fc;
    EXPECT_NEAR(-360.0 * kFrequencyHz * swing.lag_s(), c.phase_deg, 0.05) << c.f_over_fc;
  }
}

// The plan's rates at its knots are central differences: of a sine they are short by
// sin(w dt) / (w dt). Recomputed by a program of our own.
TEST(TrialReferenceTest, CentralDifferencesShrinkARate) {
  struct Case {
    int knots;
    double gain;
  };
  for (const Case& c : {Case{10, 0.9354892837886389},
                        Case{20, 0.9836316430834661},
                        Case{50, 0.9973701827725034},
                        Case{100, 0.9993421562398412}}) {
    const v1::Robot robot = test::MakeQuadruped();
    const v1::Gait gait = test::MakeSineGait(robot, {.knot_count = c.knots, .frequency_hz = 10.0});
    const PlannedCycle plan =
        PlannedCycle::Create({.robot = robot, .surface = test::MakeSurface(0.5), .gait = gait})
            .value();
    const GaitTrack track = GaitTrack::Create(gait, plan.model()).value();
    for (int knot = 0; knot < c.knots; ++knot) {
      Eigen::VectorXd position, rate;
      track.LegTarget(knot * track.knot_period(), &position, &rate);
      const double exact =
          0.001 * 20.0 * std::numbers::pi * std::cos(2.0 * std::numbers::pi * knot / c.knots);
      EXPECT_NEAR(rate[0], c.gain * exact, 1e-12) << c.knots;
    }
  }
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
