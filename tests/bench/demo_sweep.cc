// Plans and audits the demo grid in one process and prints two lines a gait.
// Usage: demo_sweep [ROBOT [RNG [hop]]]; with "hop" the hop alone.
#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <iostream>
#include <sstream>
#include <string>

#include "solver/plan/plan_gait.h"
#include "solver/replay/audit_gait.h"
#include "solver/robot/read.h"
#include "tests/support/paths.h"

namespace {

using gaitshelf::solver::PlanGait;
using gaitshelf::solver::PlanRequest;

std::string ReadFile(const std::string& name) {
  std::ifstream file(gaitshelf::test::SourcePath("deploy/demo/" + name));
  std::stringstream text;
  text << file.rdbuf();
  return text.str();
}

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

void Plan(PlanRequest request, const std::string& surface, double frequency_hz, double hop_m) {
  request.surface =
      gaitshelf::solver::ReadSurfaceText(ReadFile(surface + ".surface.textproto")).value();
  request.order.set_surface(surface);
  std::string label = surface;
  if (hop_m > 0.0) {
    request.order.mutable_task()->mutable_hop()->set_rise_m(hop_m);
    label += " hop";
  } else {
    request.order.set_stride_frequency_hz(frequency_hz);
    request.order.mutable_task()->mutable_advance()->set_advance_m(0.009);
    label += " " + std::to_string(static_cast<int>(frequency_hz)) + " Hz";
  }
  const auto gait = PlanGait(request, {});
  if (!gait.ok()) {
    std::cout << label << ": " << gait.status() << "\n";
    return;
  }
  PrintRow(label, *gait);
  const auto audit = gaitshelf::solver::AuditGait({request.robot, request.surface, *gait, nullptr});
  if (!audit.ok()) {
    std::cout << "    " << audit.status() << "\n";
    return;
  }
  PrintAudit(*audit);
}

}  // namespace

int main(int argc, char** argv) {
  PlanRequest request;
  const std::string robot = argc > 1 ? argv[1] : "weevil";
  request.robot = gaitshelf::solver::ReadRobotText(ReadFile(robot + ".robot.textproto")).value();
  request.order.set_robot(robot);
  request.order.mutable_options()->set_rng(argc > 2 ? std::atoi(argv[2]) : 0);
  const bool is_hop_only = argc > 3 && std::string(argv[3]) == "hop";
  for (const double frequency_hz : {3.0, 12.0, 28.0}) {
    if (is_hop_only) {
      break;
    }
    for (const char* surface : {"duct-steel", "liner-felt", "grit-tape"}) {
      Plan(request, surface, frequency_hz, 0.0);
    }
  }
  Plan(request, "liner-felt", 0.0, 0.009);
  return 0;
}
