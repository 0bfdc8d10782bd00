// Calibrates hidden robots and plans anew for what was found: how often the 95 % intervals hold the
// hidden values, and how much further the new gait walks on the hidden robot than the first, or how
// much nearer it comes to a stride that was asked for. Invented data.
// Usage: calibration [--robots N] [--rng K] [--only INDEX] [--by bench|gait] [--order max|9mm]
//                    [--threads T] [--json FILE]
//
// Each robot's stiffness, damping and gain of every leg coordinate and its friction are off by up
// to a fifth, its legs' masses by their stated 2 %. It is calibrated by a ring-down and a chirp of
// its legs and a tilt test, or by 30 cycles of its gait, with noisy sensors and late tracking.
// --order max asks for the longest stride at 12 Hz.
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <iostream>
#include <string>
#include <vector>

#include "tests/bench/hidden_robot_run.h"
#include "tests/bench/interval_coverage.h"
#include "tests/bench/json.h"
#include "tests/bench/options.h"
#include "tests/bench/replanned_strides.h"

namespace {

namespace bench = gaitshelf::bench;

struct Options {
  int robots = 50;
  int rng = 0;
  int only = -1;
  std::string by = "bench";
  std::string order = "max";
  int threads = 1;
  std::string json;

  double asked_m() const { return order == "9mm" ? 0.009 : 0.0; }
};

// What all robots told.
struct Told {
  bench::IntervalCoverage coverage{};
  std::vector<bench::Strides> strides{};
  int failed_count = 0;
};

bool ReadOptions(int argc, char** argv, Options* options) {
  // --rng and the robot's number make up one number, for which an int has room.
  constexpr int kMostRng = 2000;
  constexpr int kMostRobots = 10'000;
  return bench::OptionReader("calibration")
      .Whole("--robots", {.least = 1, .most = kMostRobots}, &options->robots)
      .Whole("--rng", {.most = kMostRng}, &options->rng)
      .Whole("--only", {.most = kMostRobots}, &options->only)
      .Choice("--by", {"bench", "gait"}, &options->by)
      .Choice("--order", {"max", "9mm"}, &options->order)
      .Whole("--threads", {.least = 1}, &options->threads)
      .Text("--json", "FILE", &options->json)
      .Read(argc, argv);
}

// Runs one robot, tells of it and counts it.
void RunOne(const Options& options, const bench::Described& described, int index, Told* told) {
  const auto start = std::chrono::steady_clock::now();
  const auto rng = static_cast<unsigned>(1'000'000 * options.rng + 10 * index + 1);
  const auto run = bench::RunHidden(
      described,
      options.by == "gait" ? bench::CalibrateBy::kGait : bench::CalibrateBy::kBench,
      rng,
      options.threads);
  const double spent_s =
      std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  if (run.ok()) {
    told->coverage.Add(run->calibration, described.robot, run->hidden);
    told->strides.push_back(run->strides);
  } else {
    ++told->failed_count;
  }
  std::printf("%4d %-11s %s  (%.1f s)\n",
              index,
              described.surface.name().c_str(),
              run.ok() ? bench::StridesText(run->strides).c_str() : run.status().ToString().c_str(),
              spent_s);
  std::fflush(stdout);
}

int Report(const Options& options, const Told& told) {
  const bench::ReplannedFigures figures = bench::FiguresOf(told.strides, options.asked_m());
  std::printf("%s%sfailed: %d\n",
              told.coverage.Text().c_str(),
              bench::FiguresText(figures).c_str(),
              told.failed_count);
  bench::Json report = bench::Json::Object();
  report.Set("robots", figures.robot_count)
      .Set("rng", options.rng)
      .Set("by", options.by)
      .Set("order", options.order)
      .Set("failed_count", told.failed_count);
  told.coverage.Set(&report);
  bench::SetFigures(figures, told.strides, &report);
  return bench::WriteJson(report, "calibration", options.json);
}

}  // namespace

int main(int argc, char** argv) {
  Options options;
  if (!ReadOptions(argc, argv, &options)) {
    return 2;
  }
  std::vector<bench::Described> all_described;
  for (const char* surface : {"liner-felt", "duct-steel"}) {
    auto described = bench::Describe(surface, options.asked_m());
    if (!described.ok()) {
      std::cerr << "calibration: " << described.status() << "\n";
      return 1;
    }
    std::printf("first gait on %s: %.2f mm planned, %.2f mm replayed on its description\n",
                surface,
                1e3 * described->gait.advance_m(),
                1e3 * described->gait.audit().replay().advance_m());
    all_described.push_back(*std::move(described));
  }
  Told told;
  const int first = std::max(options.only, 0);
  const int count = options.only >= 0 ? 1 : options.robots;
  for (int i = first; i < first + count; ++i) {
    RunOne(options, all_described[static_cast<std::size_t>(i) % all_described.size()], i, &told);
  }
  return Report(options, told);
}
