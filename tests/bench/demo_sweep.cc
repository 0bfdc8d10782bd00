// Plans and audits the demo grid and its hop in one process and prints two lines a gait.
// Usage: demo_sweep [--robot NAME] [--rng K] [--parts advance,hop] [--json FILE]
#include <algorithm>
#include <cstdio>
#include <iostream>
#include <iterator>
#include <string>
#include <vector>

#include "absl/strings/str_format.h"
#include "solver/plan/plan_gait.h"
#include "solver/replay/audit_gait.h"
#include "tests/bench/demo_robots.h"
#include "tests/bench/json.h"
#include "tests/bench/options.h"
#include "tests/support/demo.h"

namespace {

using gaitshelf::bench::Json;
using gaitshelf::bench::kDemoRobots;
using gaitshelf::solver::PlanGait;
using gaitshelf::solver::PlanRequest;

void PrintRow(const std::string& label, const gaitshelf::v1::Gait& gait) {
  const gaitshelf::v1::PlanReport& report = gait.report();
  double slip_m = 0.0;
  std::string touchdowns;
  for (int i = 0; i < report.touchdown_count_size(); ++i) {
    slip_m = std::max(slip_m, report.slip_m(i));
    touchdowns += std::to_string(report.touchdown_count(i));
  }
  std::printf(
      "%-18s %d rung %d rounds %2d its %4d viol %.1e cost %.3e s %6.2f td %s slip %.3f S %.3f mm "
      "V %.0f %s\n",
      label.c_str(),
      report.outcome(),
      report.retry_rung(),
      report.round_count(),
      report.iteration_count(),
      report.violation_ratio(),
      report.cost_ratio(),
      report.solve_s(),
      touchdowns.c_str(),
      slip_m * 1e3,
      gait.advance_m() * 1e3,
      report.peak_voltage_v(),
      report.reason().c_str());
  std::fflush(stdout);
}

void PrintAudit(const gaitshelf::v1::Audit& audit) {
  const gaitshelf::v1::ReplayReport& replay = audit.replay();
  std::printf("    verdict %d ratio %.4f cycles", audit.verdict(), replay.plan_ratio());
  for (const double advance_m : replay.cycle_advance_m()) {
    std::printf(" %.3f", advance_m * 1e3);
  }
  double slip_m = 0.0;
  double touchdowns = 0.0;
  for (const double value : replay.slip_m()) {
    slip_m = std::max(slip_m, value);
  }
  for (const double value : replay.touchdown_ratio()) {
    touchdowns = std::max(touchdowns, value);
  }
  std::printf(
      " slip %.3f td<=%.1f agree %.3f V %.0f over %.3f mm tilt %.3f turn %.4f energy %.1e contact "
      "%.1e worst %.1e cpu %.2f s step %.2e\n",
      slip_m * 1e3,
      touchdowns,
      replay.footfall_agreement_ratio(),
      replay.peak_voltage_v(),
      replay.peak_overtravel_m() * 1e3,
      replay.peak_tilt_rad(),
      replay.turn_rad(),
      replay.energy_balance_ratio(),
      replay.contact_residual_ratio(),
      audit.residuals().worst_ratio(),
      replay.cpu_s(),
      replay.step_s());
  if (replay.has_mechanism()) {
    const gaitshelf::v1::MechanismReport& mechanism = replay.mechanism();
    std::printf(
        "    mechanism: compiled legs %+.4f %% in %.2f s, bend %s %.3f rad, strain %s %.4f, loop "
        "%s "
        "%.1f mN, open %.1e m\n",
        mechanism.compiled_deviation_ratio() * 1e2,
        mechanism.compiled_cpu_s(),
        mechanism.most_bent().flexure().c_str(),
        mechanism.most_bent().angle_rad(),
        mechanism.most_strained().flexure().c_str(),
        mechanism.most_strained().strain_ratio(),
        mechanism.most_loaded().flexure().c_str(),
        mechanism.most_loaded().force_n() * 1e3,
        mechanism.loop_residual_m());
  }
  for (const std::string& reason : audit.reasons()) {
    std::printf("    reason: %s\n", reason.c_str());
  }
  std::fflush(stdout);
}

struct Cell {
  std::string surface{};
  double frequency_hz = 0.0;
  double hop_m = 0.0;  // 0 for an advance

  [[nodiscard]] std::string Label() const {
    return hop_m > 0.0 ? surface + " hop" : absl::StrFormat("%s %.0f Hz", surface, frequency_hz);
  }
};

std::vector<Cell> CellsOf(const std::vector<std::string>& parts) {
  std::vector<Cell> cells;
  for (const std::string& part : parts) {
    if (part == "hop") {
      cells.push_back({.surface = "liner-felt", .hop_m = 0.009});
      continue;
    }
    for (const double frequency_hz : {3.0, 12.0, 28.0}) {
      for (const char* surface : {"duct-steel", "liner-felt", "grit-tape"}) {
        cells.push_back({.surface = surface, .frequency_hz = frequency_hz});
      }
    }
  }
  return cells;
}

// What became of one cell.
struct Outcome {
  bool is_good = false;
  double solve_s = 0.0;
  Json report = Json::Object();
};

Outcome PlanCell(PlanRequest request, const Cell& cell) {
  Outcome outcome;
  outcome.report.Set("cell", cell.Label());
  request.surface = gaitshelf::test::ReadDemoSurface(cell.surface);
  request.order.set_surface(cell.surface);
  if (cell.hop_m > 0.0) {
    request.order.mutable_task()->mutable_hop()->set_rise_m(cell.hop_m);
  } else {
    request.order.set_stride_frequency_hz(cell.frequency_hz);
    request.order.mutable_task()->mutable_advance()->set_advance_m(0.009);
  }
  const auto gait = PlanGait(request, {});
  if (!gait.ok()) {
    std::cout << cell.Label() << ": " << gait.status() << "\n";
    outcome.report.Set("error", gait.status().ToString());
    return outcome;
  }
  PrintRow(cell.Label(), *gait);
  outcome.solve_s = gait->report().solve_s();
  outcome.report.Set("solve_s", outcome.solve_s)
      .Set("rung", gait->report().retry_rung())
      .Set("iterations", gait->report().iteration_count())
      .Set("violation_ratio", gait->report().violation_ratio());
  const auto audit = gaitshelf::solver::AuditGait({request.robot, request.surface, *gait, nullptr});
  if (!audit.ok()) {
    std::cout << "    " << audit.status() << "\n";
    outcome.report.Set("error", audit.status().ToString());
    return outcome;
  }
  PrintAudit(*audit);
  outcome.is_good = audit->verdict() == gaitshelf::v1::VERDICT_GOOD;
  outcome.report.Set("good", outcome.is_good)
      .Set("audit_s", audit->replay().cpu_s())
      .Set("plan_ratio", audit->replay().plan_ratio());
  return outcome;
}

}  // namespace

int main(int argc, char** argv) {
  std::string robot = "weevil";
  int rng = 0;
  std::vector<std::string> parts = {"advance", "hop"};
  std::string json;
  if (!gaitshelf::bench::OptionReader("demo_sweep")
           .Choice("--robot", {std::begin(kDemoRobots), std::end(kDemoRobots)}, &robot)
           .Whole("--rng", {}, &rng)
           .Choices("--parts", {"advance", "hop"}, &parts)
           .Text("--json", "FILE", &json)
           .Read(argc, argv)) {
    return 2;
  }
  PlanRequest request;
  request.robot = gaitshelf::test::ReadDemoRobot(robot);
  request.order.set_robot(robot);
  request.order.mutable_options()->set_rng(rng);
  int good_count = 0;
  double solve_s = 0.0;
  Json gaits = Json::List();
  const std::vector<Cell> cells = CellsOf(parts);
  for (const Cell& cell : cells) {
    const Outcome outcome = PlanCell(request, cell);
    good_count += outcome.is_good ? 1 : 0;
    solve_s += outcome.solve_s;
    gaits.Add(outcome.report);
  }
  std::printf("%d of %zu good, %.2f s of solving\n", good_count, cells.size(), solve_s);
  return gaitshelf::bench::WriteJson(Json::Object()
                                         .Set("robot", robot)
                                         .Set("rng", rng)
                                         .Set("good_count", good_count)
                                         .Set("gait_count", cells.size())
                                         .Set("solve_s", solve_s)
                                         .Set("gaits", gaits),
                                     "demo_sweep",
                                     json);
}
