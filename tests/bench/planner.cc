// What the planner costs.
// Usage: planner [--json FILE] [--parts PART[,PART...]] [--robot NAME] [--repeats N]
//                [--most-knots N] [--frequency HZ] [--most-ratio R] [--only SETUP]
//   growth   how time grows with the knots and with the legs
//   shares   what its time goes into, over the demonstration's grid
//   versus   the planner's solver against IPOPT, which is stopped at R times the planner's time;
//            --only keeps set-ups whose name has this part
// Takes minutes. Progress goes to standard error, tables to standard output.
#include <iostream>
#include <iterator>
#include <string>
#include <vector>

#include "tests/bench/demo_robots.h"
#include "tests/bench/growth.h"
#include "tests/bench/json.h"
#include "tests/bench/options.h"
#include "tests/bench/shares.h"
#include "tests/bench/versus.h"

namespace {

using gaitshelf::bench::Json;
using gaitshelf::bench::kDemoRobots;

struct Options {
  std::string json;
  std::vector<std::string> parts = {"growth", "shares", "versus"};
  std::string robot = "weevil-lumped";
  std::string only;
  double frequency_hz = 0.0;
  double most_ratio = 60.0;
  int repeats = 5;
  int most_knots = 320;
};

absl::StatusOr<Json> RunPart(const std::string& part, const Options& options) {
  if (part == "growth") {
    return gaitshelf::bench::MeasureGrowth(
        {.most_knots = options.most_knots, .repeats = options.repeats});
  }
  if (part == "shares") {
    return gaitshelf::bench::MeasureShares(options.robot);
  }
  return gaitshelf::bench::CompareWithIpopt({.robot = options.robot,
                                             .only = options.only,
                                             .frequency_hz = options.frequency_hz,
                                             .most_ratio = options.most_ratio});
}

}  // namespace

int main(int argc, char** argv) {
  Options options;
  if (!gaitshelf::bench::OptionReader("planner")
           .Choices("--parts", {"growth", "shares", "versus"}, &options.parts)
           .Choice("--robot", {std::begin(kDemoRobots), std::end(kDemoRobots)}, &options.robot)
           .Whole("--repeats", {.least = 1}, &options.repeats)
           .Whole("--most-knots", {.least = 40}, &options.most_knots)
           .Number("--frequency", {}, &options.frequency_hz)
           .Number("--most-ratio", {.least = 1.0}, &options.most_ratio)
           .Text("--only", "SETUP", &options.only)
           .Text("--json", "FILE", &options.json)
           .Read(argc, argv)) {
    return 2;
  }
  Json report = Json::Object();
  for (const std::string& part : options.parts) {
    const absl::StatusOr<Json> found = RunPart(part, options);
    if (!found.ok()) {
      std::cerr << "planner: " << found.status() << "\n";
      return 1;
    }
    report.Set(part, *found);
  }
  return gaitshelf::bench::WriteJson(report, "planner", options.json);
}
