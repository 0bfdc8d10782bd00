// A made-up walk whose every figure is known, written down as a trial. Invented data.
#ifndef GAITSHELF_TESTS_SOLVER_MEASURE_WALKER_H_
#define GAITSHELF_TESTS_SOLVER_MEASURE_WALKER_H_

#include <array>
#include <cmath>
#include <limits>
#include <memory>
#include <numbers>
#include <random>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/trial.pb.h"

#include "solver/measure/analyse_trial.h"
#include "solver/measure/check_trial.h"
#include "solver/measure/planned_cycle.h"
#include "tests/solver/measure/trials.h"
#include "tests/support/gaits.h"
#include "tests/support/robots.h"

namespace gaitshelf::test {

// The quadruped with drives of a known capacitance.
inline v1::Robot MakeCharged(double capacitance_f) {
  v1::Robot robot = MakeQuadruped();
  for (v1::Leg& leg : *robot.mutable_legs()) {
    for (v1::LegCoordinate* coordinate :
         {leg.mutable_lumped()->mutable_lift(), leg.mutable_lumped()->mutable_swing()}) {
      coordinate->mutable_bimorph()->set_capacitance_f(capacitance_f);
    }
  }
  return robot;
}

// The quadruped: leg-1 and leg-2 in front, leg-1 and leg-3 to the left. It stands still for one
// cycle, walks from phase 0 at time 0 on, and feet stay where they are while they stand.
struct Walker {
  SineGait sine{.frequency_hz = 10.0};
  int cycle_count = 12;
  double stride_m = 0.007;
  double drift_m = 0.0002;        // per cycle, to the left
  double heading_rad = 0.3;       // of the tracking system's frame
  double slip_along_m = -0.0004;  // per stance
  std::array<double, 4> duty = {0.6, 0.5, 0.5, 0.6};
  std::array<double, 4> touchdown = {0.1, 0.6, 0.85, 0.35};
  double leg_gain = 0.9;
  double leg_lag_s = 0.0;
  double power_w = 0.01;
  double capacitance_f = 0.0;  // of each drive; 0 when it is not described
  double leak_s = 0.0;         // conductance beside it, S
  double tracking_delay_s = 0.0;
  double noise_m = 0.0;
  double missing_share = 0.0;  // of the values, times apart
  double dropped_share = 0.0;  // of the rows
  unsigned rng = 1;

  double Value(const std::string& label, double time_s) const {
    const double cycles = time_s * sine.frequency_hz;
    const double walked = std::max(0.0, cycles);
    const double along_m = stride_m * walked, across_m = drift_m * walked;
    const double c = std::cos(heading_rad), s = std::sin(heading_rad);
    if (label == "time [s]") return time_s;
    if (label == "phase") return cycles < 0.0 ? -1.0 : cycles - std::floor(cycles);
    if (label == "body x [mm]") return 1e3 * (c * along_m - s * across_m);
    if (label == "body y [mm]") return 1e3 * (s * along_m + c * across_m);
    if (label == "body z [mm]") return 11.0;
    if (label == "body yaw [deg]") return heading_rad * 180.0 / std::numbers::pi;
    if (label == "power [mW]") return 1e3 * power_w;
    return LegValue(label, cycles);
  }

 private:
  double LegValue(const std::string& label, double cycles) const {
    const auto foot = static_cast<std::size_t>(label[4] - '1');
    const bool is_swing = label.find("swing") != std::string::npos;
    const double angle = 2.0 * std::numbers::pi *
                         (cycles - leg_lag_s * sine.frequency_hz +
                          0.1 * static_cast<double>(2 * foot + (is_swing ? 1 : 0)));
    const double since = cycles - touchdown[foot] - std::floor(cycles - touchdown[foot]);
    const double landed = cycles - since;  // the cycle in which it landed, with its phase
    // In the air it goes to the next place at constant speed.
    const double slid_m =
        since < duty[foot]
            ? slip_along_m * since / duty[foot]
            : slip_along_m + (stride_m - slip_along_m) * (since - duty[foot]) / (1.0 - duty[foot]);
    const double along_m = stride_m * landed + slid_m;
    if (label.find("contact") != std::string::npos) return since < duty[foot] ? 1.0 : 0.0;
    const double voltage_v = 100.0 + sine.amplitude_v * std::sin(angle);
    if (label.find("voltage") != std::string::npos) return voltage_v;
    if (label.find("current") != std::string::npos) {
      const double rate_v_per_s =
          2.0 * std::numbers::pi * sine.frequency_hz * sine.amplitude_v * std::cos(angle);
      return 1e3 * (capacitance_f * rate_v_per_s + leak_s * voltage_v);
    }
    if (label.find(" x [mm]") != std::string::npos) return 1e3 * std::cos(heading_rad) * along_m;
    if (label.find(" y [mm]") != std::string::npos) return 1e3 * std::sin(heading_rad) * along_m;
    return cycles < 0.0 ? 0.0 : 1e3 * leg_gain * sine.amplitude_m * std::sin(angle);
  }
};

// A trial with its samples read, and the plan that it was a trial of.
struct Walked {
  std::unique_ptr<v1::Trial> trial = std::make_unique<v1::Trial>();
  v1::Gait gait{};
  std::unique_ptr<solver::PlannedCycle> plan{};
  std::unique_ptr<solver::TrialTable> table{};

  v1::TrialAnalysis Analyse(const v1::AnalysisOptions& options = {}) const {
    return solver::AnalyseTrial(
        {.table = table.get(), .gait = &gait, .plan = plan.get(), .options = options});
  }
};

struct LogSpec {
  std::string name;
  v1::TrialClock clock;
  double rate_hz;
  std::vector<std::string> labels;  // "time [s]" is put before them
};

inline std::vector<std::string> OnBoardLabels() {
  std::vector<std::string> labels = {"phase", "power [mW]"};
  for (const char* leg : {"leg-1", "leg-2", "leg-3", "leg-4"}) {
    for (const char* end :
         {" lift [mm]", " swing [mm]", " lift voltage [V]", " swing voltage [V]", " contact"}) {
      labels.push_back(std::string(leg) + end);
    }
  }
  return labels;
}

inline std::vector<std::string> TrackingLabels() {
  return {"body x [mm]",
          "body y [mm]",
          "body z [mm]",
          "body yaw [deg]",
          "leg-1 x [mm]",
          "leg-1 y [mm]",
          "leg-1 swing [mm]"};
}

inline std::vector<LogSpec> BothLogs() {
  return {{"on-board", v1::TRIAL_CLOCK_ON_BOARD, 1000.0, OnBoardLabels()},
          {"tracking", v1::TRIAL_CLOCK_TRACKING, 500.0, TrackingLabels()}};
}

inline v1::TrialBlock WriteLog(const Walker& walker,
                               const LogSpec& log,
                               int index,
                               std::mt19937* generator) {
  std::normal_distribution<double> normal(0.0, 1.0);
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  const double delay_s = log.clock == v1::TRIAL_CLOCK_TRACKING ? walker.tracking_delay_s : 0.0;
  const double period_s = 1.0 / walker.sine.frequency_hz;
  v1::TrialBlock block;
  block.set_group_index(index);
  const auto count =
      static_cast<int>(std::lround((walker.cycle_count + 1) * period_s * log.rate_hz));
  for (int row = 0; row <= count; ++row) {
    const double time_s = row / log.rate_hz - period_s;
    if (uniform(*generator) < walker.dropped_share) {
      continue;
    }
    block.add_values_as_labelled(time_s);
    for (const std::string& label : log.labels) {
      double value = walker.Value(label, time_s - delay_s);
      if (label.ends_with("[mm]")) {
        value += 1e3 * walker.noise_m * normal(*generator);
      }
      if (uniform(*generator) < walker.missing_share) {
        value = std::numeric_limits<double>::quiet_NaN();
      }
      block.add_values_as_labelled(value);
    }
  }
  return block;
}

inline Walked Walk(const Walker& walker, const std::vector<LogSpec>& logs = BothLogs()) {
  Walked walked;
  walked.trial->set_name("t-1");
  walked.trial->set_kind(v1::TRIAL_KIND_GAIT);
  walked.trial->set_gait("g-1");
  walked.trial->set_is_invented(true);
  walked.trial->set_stride_frequency_hz(walker.sine.frequency_hz);
  const v1::Robot robot =
      walker.capacitance_f > 0.0 ? MakeCharged(walker.capacitance_f) : MakeQuadruped();
  walked.gait = MakeSineGait(robot, walker.sine);
  walked.plan = std::make_unique<solver::PlannedCycle>(
      solver::PlannedCycle::Create(
          {.robot = robot, .surface = MakeSurface(0.5), .gait = walked.gait})
          .value());
  for (const LogSpec& log : logs) {
    std::vector<std::string> labels = {"time [s]"};
    labels.insert(labels.end(), log.labels.begin(), log.labels.end());
    AddGroup(log.name, log.clock, labels, walked.trial.get());
  }
  const solver::Violations faults =
      solver::ResolveTrial(solver::PartsOf(robot), walked.trial.get());
  if (!faults.empty()) {
    throw std::runtime_error(faults[0].field() + faults[0].problem());
  }
  walked.table = std::make_unique<solver::TrialTable>(walked.trial.get());
  std::mt19937 generator(walker.rng);
  for (std::size_t i = 0; i < logs.size(); ++i) {
    walked.table->Add(WriteLog(walker, logs[i], static_cast<int>(i), &generator));
  }
  walked.table->Finish();
  return walked;
}

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SOLVER_MEASURE_WALKER_H_
