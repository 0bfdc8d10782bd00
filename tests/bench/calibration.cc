// Calibrates hidden robots and plans anew for what was found: how often the 95 % intervals hold the
// hidden values, and how much further the new gait walks on the hidden robot than the first.
// Invented data.
// Usage: calibration [--robots N] [--rng K] [--only INDEX] [--by bench|gait] [--threads T]
//                    [--json FILE]
//
// Each robot's stiffness, damping and gain of every leg coordinate and its friction are off by up
// to a fifth, its legs' masses by their stated 2 %. It is calibrated by a ring-down and a chirp of
// its legs and a tilt test, or by 30 cycles of its gait, with noisy sensors and late tracking.
#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <iostream>
#include <map>
#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "solver/base/status_macros.h"
#include "solver/calibrate/calibrate.h"
#include "solver/plan/plan_gait.h"
#include "solver/replay/record.h"
#include "solver/robot/draw.h"
#include "tests/bench/json.h"
#include "tests/bench/options.h"
#include "tests/support/bench_trial.h"
#include "tests/support/demo.h"
#include "tests/support/hidden_robot.h"
#include "tests/support/recorded_trial.h"

namespace {

namespace bench = gaitshelf::bench;
namespace solver = gaitshelf::solver;
namespace v1 = gaitshelf::v1;
namespace test = gaitshelf::test;

struct Options {
  int robots = 50;
  int rng = 0;
  int only = -1;
  std::string by = "bench";
  int threads = 1;
  std::string json;
};

// How often intervals hold, by kind of number.
struct Coverage {
  int held = 0;
  int count = 0;
  int untold = 0;
  std::vector<double> error_ratio;  // size of estimate over truth less 1

  double Share() const { return count > 0 ? static_cast<double>(held) / count : 0.0; }
};

using Coverages = std::map<std::string, Coverage>;

struct Setting {
  v1::Robot robot;
  v1::Surface surface;
  v1::GaitOrder order;
  v1::Gait gait;
};

absl::StatusOr<v1::Gait> Plan(const v1::Robot& robot,
                              const v1::Surface& surface,
                              const v1::GaitOrder& order) {
  GAITSHELF_ASSIGN_OR_RETURN(
      v1::Gait gait, solver::PlanGait({.robot = robot, .surface = surface, .order = order}, {}));
  if (gait.report().outcome() != v1::PLAN_OUTCOME_CONVERGED) {
    return absl::FailedPreconditionError(absl::StrCat("no plan: ", gait.report().reason()));
  }
  return gait;
}

absl::StatusOr<Setting> MakeSetting(const std::string& surface, double advance_m) {
  Setting setting;
  setting.robot = test::ReadDemoRobot("weevil-lumped");
  setting.surface = test::ReadDemoSurface(surface);
  // What is even within a fifth has this deviation; the description says so.
  v1::RobotUncertainty uncertainty = solver::StatedUncertainty(setting.robot);
  uncertainty.set_mass_ratio(0.02);
  uncertainty.set_stiffness_ratio(0.12);
  uncertainty.set_gain_ratio(0.12);
  *setting.robot.mutable_uncertainty() = uncertainty;
  setting.surface.set_friction_uncertainty_coefficient(0.12 *
                                                       setting.surface.friction_coefficient());
  setting.order.set_robot(setting.robot.name());
  setting.order.set_surface(setting.surface.name());
  setting.order.set_stride_frequency_hz(12.0);
  setting.order.mutable_task()->mutable_advance()->set_advance_m(advance_m);
  GAITSHELF_ASSIGN_OR_RETURN(setting.gait, Plan(setting.robot, setting.surface, setting.order));
  return setting;
}

// The hidden value of an estimate.
double Truth(const v1::CalibrationEstimate& estimate,
             const Setting& setting,
             const test::HiddenRobot& hidden) {
  if (estimate.quantity() == v1::CALIBRATION_QUANTITY_FRICTION) {
    return hidden.surface.friction_coefficient();
  }
  std::size_t leg = 0;
  for (int i = 0; i < setting.robot.legs_size(); ++i) {
    if (setting.robot.legs(i).name() == estimate.leg()) {
      leg = static_cast<std::size_t>(i);
    }
  }
  const solver::LegFactors& factors = hidden.factors[leg];
  const auto axis = static_cast<std::size_t>(estimate.axis());
  switch (estimate.quantity()) {
    case v1::CALIBRATION_QUANTITY_STIFFNESS:
      return estimate.described_si() * factors.stiffness[axis];
    case v1::CALIBRATION_QUANTITY_DAMPING:
      return estimate.described_si() * factors.damping[axis];
    case v1::CALIBRATION_QUANTITY_GAIN:
      return estimate.described_si() * factors.gain[axis];
    default:
      return estimate.described_si() * factors.mass;
  }
}

void Count(const v1::Calibration& calibration,
           const Setting& setting,
           const test::HiddenRobot& hidden,
           Coverages* coverages) {
  for (const v1::CalibrationEstimate& estimate : calibration.estimates()) {
    const std::string kind =
        v1::CalibrationQuantity_Name(estimate.quantity()).substr(sizeof("CALIBRATION_QUANTITY"));
    Coverage& coverage = (*coverages)[kind];
    if (!estimate.is_told()) {
      ++coverage.untold;
      continue;
    }
    const double truth = Truth(estimate, setting, hidden);
    const bool is_held = estimate.lower_si() <= truth && truth <= estimate.upper_si();
    coverage.held += is_held ? 1 : 0;
    ++coverage.count;
    coverage.error_ratio.push_back(std::abs(estimate.estimate_si() / truth - 1.0));
  }
}

// Stride on the hidden robot, m; 0 when it falls.
double HiddenStride(const test::HiddenRobot& hidden, const v1::Gait& gait) {
  const auto recording = solver::RecordReplay(
      {.robot = hidden.robot, .surface = hidden.surface, .gait = gait, .cycle_count = 6});
  return recording.ok() && recording->simulated.trouble.empty()
             ? recording->simulated.report.advance_m()
             : 0.0;
}

struct Replanned {
  double first_m = 0.0;
  double new_m = 0.0;
  double gain_ratio() const { return new_m / first_m - 1.0; }
};

absl::StatusOr<v1::Calibration> CalibrateByBench(const Setting& setting,
                                                 const test::HiddenRobot& hidden,
                                                 unsigned rng) {
  const test::ReadTrial ring = test::MakeLegTrial(hidden.robot, test::RingDown(rng));
  const test::ReadTrial chirp = test::MakeLegTrial(hidden.robot, test::Chirp(rng + 1));
  const test::ReadTrial tilt =
      test::MakeTiltTrial({.friction = hidden.surface.friction_coefficient(), .rng = rng + 2});
  solver::CalibrationRequest request;
  request.robot = setting.robot;
  request.surface = setting.surface;
  request.trials = {ring.table.get(), chirp.table.get(), tilt.table.get()};
  return solver::Calibrate(request);
}

absl::StatusOr<v1::Calibration> CalibrateByGait(const Setting& setting,
                                                const test::HiddenRobot& hidden,
                                                unsigned rng,
                                                int threads) {
  GAITSHELF_ASSIGN_OR_RETURN(const solver::Recording recording,
                             solver::RecordReplay({.robot = hidden.robot,
                                                   .surface = hidden.surface,
                                                   .gait = setting.gait,
                                                   .cycle_count = 30}));
  const test::ReadTrial trial = test::ReadRecordedTrial(
      test::MakeRecordedTrial(recording,
                              setting.gait,
                              {.weight_n = 9.81 * setting.robot.body().mass_kg(),
                               .tracking_delay_s = 0.04,
                               .leg_noise_m = 5e-6,
                               .body_noise_m = 1e-4,
                               .body_noise_rad = 2e-3,
                               .rng = rng + 3}),
      setting.robot);
  solver::CalibrationRequest request;
  request.robot = setting.robot;
  request.surface = setting.surface;
  request.trials = {trial.table.get()};
  request.gaits = {{setting.gait.name(), setting.gait}};
  request.thread_count = threads;
  return solver::Calibrate(request);
}

absl::StatusOr<Replanned> RunRobot(const Setting& setting,
                                   const Options& options,
                                   unsigned rng,
                                   Coverages* coverages) {
  std::mt19937 generator(rng);
  const test::HiddenRobot hidden = test::Hide(setting.robot, setting.surface, &generator);
  GAITSHELF_ASSIGN_OR_RETURN(const v1::Calibration calibration,
                             options.by == "gait"
                                 ? CalibrateByGait(setting, hidden, rng, options.threads)
                                 : CalibrateByBench(setting, hidden, rng));
  Count(calibration, setting, hidden, coverages);
  GAITSHELF_ASSIGN_OR_RETURN(
      const v1::Gait replanned,
      Plan(
          calibration.has_calibrated_robot() ? calibration.calibrated_robot() : setting.robot,
          calibration.has_calibrated_surface() ? calibration.calibrated_surface() : setting.surface,
          setting.order));
  return Replanned{.first_m = HiddenStride(hidden, setting.gait),
                   .new_m = HiddenStride(hidden, replanned)};
}

double Median(std::vector<double> values) {
  if (values.empty()) {
    return 0.0;
  }
  std::sort(values.begin(), values.end());
  const std::size_t half = values.size() / 2;
  return values.size() % 2 == 1 ? values[half] : 0.5 * (values[half - 1] + values[half]);
}

int Report(const Options& options,
           const Coverages& coverages,
           const std::vector<Replanned>& replanned,
           const std::vector<std::string>& failures) {
  bench::Json by_kind = bench::Json::Object();
  Coverage all;
  for (const auto& [name, coverage] : coverages) {
    std::printf("%-24s %4d of %4d intervals hold (%.1f %%), %4d not told; median error %.2f %%\n",
                name.c_str(),
                coverage.held,
                coverage.count,
                100.0 * coverage.Share(),
                coverage.untold,
                100.0 * Median(coverage.error_ratio));
    by_kind.Set(name,
                bench::Json::Object()
                    .Set("held", coverage.held)
                    .Set("count", coverage.count)
                    .Set("untold", coverage.untold)
                    .Set("median_error_ratio", Median(coverage.error_ratio)));
    all.held += coverage.held;
    all.count += coverage.count;
  }
  std::vector<double> gains;
  int further = 0;
  for (const Replanned& one : replanned) {
    gains.push_back(one.gain_ratio());
    further += one.new_m > one.first_m ? 1 : 0;
  }
  std::printf(
      "all: %d of %d intervals hold (%.1f %%)\n"
      "replanned: %d of %zu walk further on the hidden robot, median %+.2f %%\n"
      "failed: %zu\n",
      all.held,
      all.count,
      100.0 * all.Share(),
      further,
      replanned.size(),
      100.0 * Median(gains),
      failures.size());
  return bench::WriteJson(bench::Json::Object()
                              .Set("robots", replanned.size())
                              .Set("rng", options.rng)
                              .Set("coverage", by_kind)
                              .Set("coverage_ratio", all.Share())
                              .Set("median_gain_ratio", Median(gains))
                              .Set("further_count", further)
                              .Set("failed_count", failures.size()),
                          "calibration",
                          options.json);
}

}  // namespace

int main(int argc, char** argv) {
  Options options;
  // --rng and the robot's number make up one number, for which an int has room.
  constexpr int kMostRng = 2000;
  constexpr int kMostRobots = 10'000;
  if (!bench::OptionReader("calibration")
           .Whole("--robots", {.least = 1, .most = kMostRobots}, &options.robots)
           .Whole("--rng", {.most = kMostRng}, &options.rng)
           .Whole("--only", {.most = kMostRobots}, &options.only)
           .Choice("--by", {"bench", "gait"}, &options.by)
           .Whole("--threads", {.least = 1}, &options.threads)
           .Text("--json", "FILE", &options.json)
           .Read(argc, argv)) {
    return 2;
  }
  std::vector<Setting> settings;
  for (const char* surface : {"liner-felt", "duct-steel"}) {
    absl::StatusOr<Setting> setting = MakeSetting(surface, 0.009);
    if (!setting.ok()) {
      std::cerr << "calibration: " << setting.status() << "\n";
      return 1;
    }
    settings.push_back(*std::move(setting));
  }
  Coverages coverages;
  std::vector<Replanned> replanned;
  std::vector<std::string> failures;
  const int first = std::max(options.only, 0);
  const int count = options.only >= 0 ? 1 : options.robots;
  for (int i = first; i < first + count; ++i) {
    const auto start = std::chrono::steady_clock::now();
    const Setting& setting = settings[static_cast<std::size_t>(i) % settings.size()];
    const auto rng = static_cast<unsigned>(1'000'000 * options.rng + 10 * i + 1);
    const absl::StatusOr<Replanned> one = RunRobot(setting, options, rng, &coverages);
    const double spent_s =
        std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    if (one.ok()) {
      replanned.push_back(*one);
      std::printf("%4d %-11s first %.2f mm, replanned %.2f mm, %+.1f %%  (%.1f s)\n",
                  i,
                  setting.surface.name().c_str(),
                  1e3 * one->first_m,
                  1e3 * one->new_m,
                  100.0 * one->gain_ratio(),
                  spent_s);
    } else {
      failures.push_back(one.status().ToString());
      std::printf("%4d %-11s %s  (%.1f s)\n",
                  i,
                  setting.surface.name().c_str(),
                  failures.back().c_str(),
                  spent_s);
    }
    std::fflush(stdout);
  }
  return Report(options, coverages, replanned, failures);
}
