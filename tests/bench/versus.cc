#include "tests/bench/versus.h"

#include <algorithm>
#include <cstdio>
#include <string>
#include <utility>
#include <vector>

#include "absl/strings/match.h"
#include "absl/strings/str_format.h"
#include "solver/base/status_macros.h"
#include "tests/bench/interior_point.h"
#include "tests/bench/planner_case.h"
#include "tests/bench/processor_time.h"

namespace gaitshelf::bench {
namespace {

// A cost up to this times the planner's counts as as good.
constexpr double kAsGood = 1.01;

// One problem with its seed.
struct Case {
  std::string name;
  solver::Stage stage;
};

// What the planner came to, over several runs of the same.
struct Own {
  PlanScore score;
  bool is_converged = false;
  int iterations = 0;
  std::vector<double> processor_s;

  double Median() const {
    std::vector<double> sorted = processor_s;
    std::sort(sorted.begin(), sorted.end());
    return sorted[sorted.size() / 2];
  }
};

std::vector<IpoptSetup> Setups() {
  std::vector<IpoptSetup> setups;
  setups.push_back({.name = "default"});
  setups.push_back({.name = "l-bfgs", .is_scheduled = true, .is_tuned = true});
  // Smaller multiples, and none, end far from the laws.
  for (const double proximal : {1e-2, 1e-1}) {
    setups.push_back({.name = absl::StrFormat("gauss-newton + %g", proximal),
                      .hessian = HessianKind::kGaussNewton,
                      .proximal = proximal,
                      .is_scheduled = true,
                      .is_tuned = true});
  }
  // At the last smoothing at once it does not end either.
  setups.push_back({.name = "second derivatives",
                    .hessian = HessianKind::kDifferences,
                    .is_scheduled = true,
                    .is_tuned = true});
  return setups;
}

// The planner's stages: slow strides on fine knots at once, others on coarse knots first; and the
// fine stage of the latter from what the planner found on the coarse one.
absl::StatusOr<std::vector<Case>> MakeCases(const solver::RobotModel& model, double only_hz) {
  std::vector<Case> cases;
  for (const double frequency_hz : {3.0, 12.0, 28.0}) {
    if (only_hz > 0.0 && frequency_hz != only_hz) {
      continue;
    }
    const std::vector<int> knots = solver::StageKnots(MakeCaseOrder(frequency_hz));
    for (size_t i = 0; i < knots.size(); ++i) {
      solver::Stage stage =
          solver::MakeStage(model, MakeCaseOrder(frequency_hz), {}, knots[i], i > 0);
      if (i > 0) {
        solver::Stage coarse = cases.back().stage;
        solver::PenaltyState penalty = FirstPenalty(coarse);
        solver::RoundState state;
        GAITSHELF_RETURN_IF_ERROR(
            SolveRounds(coarse.problem, coarse.schedule, {}, &coarse.unknowns, &penalty, &state));
        stage.unknowns = solver::Resample(coarse.problem, coarse.unknowns, stage);
      }
      cases.push_back(
          {absl::StrFormat("%.0f Hz, %d knots%s", frequency_hz, knots[i], i > 0 ? ", from 40" : ""),
           std::move(stage)});
    }
  }
  return cases;
}

absl::Status RunOwn(const Case& of, Own* own) {
  solver::Stage stage = of.stage;
  solver::PenaltyState penalty = FirstPenalty(stage);
  solver::RoundState state;
  const Stopwatch watch;
  GAITSHELF_RETURN_IF_ERROR(
      SolveRounds(stage.problem, stage.schedule, {}, &stage.unknowns, &penalty, &state));
  own->processor_s.push_back(watch.processor_s());
  own->is_converged = state.is_converged;
  own->iterations = state.iteration_count;
  own->score = PlanProgram(stage).Score();
  return absl::OkStatus();
}

void PrintOwn(const Own& own) {
  const auto [least, most] = std::minmax_element(own.processor_s.begin(), own.processor_s.end());
  std::printf(
      "  %-20s %7.2f s, of %.2f to %.2f in %zu runs; its %4d, violation %.1e, cost %.4e%s\n",
      "planner",
      own.Median(),
      *least,
      *most,
      own.processor_s.size(),
      own.iterations,
      own.score.violation,
      own.score.cost,
      own.is_converged ? "" : "  not converged");
}

Json ReportRun(const IpoptSetup& setup, const IpoptRun& run, const Own& own) {
  const double spent_s = run.processor_s - run.hessian_s;
  const auto after = [](double seconds) {
    return seconds < 0.0 ? std::string("never") : absl::StrFormat("%.2f s", seconds);
  };
  std::printf(
      "  %-20s %7.2f s (rows %.2f) + second derivatives %.1f s; ratio %5.1f; its %4d, violation "
      "%.1e, cost %.4e (%+.1f %%); status %d; lawful after %s, as good after %s\n",
      setup.name.c_str(),
      spent_s,
      run.evaluation_s,
      run.hessian_s,
      spent_s / own.Median(),
      run.iterations,
      run.score.violation,
      run.score.cost,
      100.0 * (run.score.cost / own.score.cost - 1.0),
      run.status,
      after(run.feasible_s).c_str(),
      after(run.as_good_s).c_str());
  std::fflush(stdout);
  return Json::Object()
      .Set("setup", setup.name)
      .Set("processor_s", run.processor_s)
      .Set("wall_s", run.wall_s)
      .Set("evaluation_s", run.evaluation_s)
      .Set("hessian_s", run.hessian_s)
      .Set("time_ratio", spent_s / own.Median())
      .Set("iterations", run.iterations)
      .Set("violation", run.score.violation)
      .Set("cost_ratio", run.score.cost / own.score.cost)
      .Set("status", run.status)
      .Set("as_good_s", run.as_good_s)
      .Set("feasible_s", run.feasible_s);
}

}  // namespace

absl::StatusOr<Json> CompareWithIpopt(const VersusOptions& options) {
  const solver::RobotModel model = MakeCaseModel(ReadCaseRobot(options.robot), "duct-steel");
  GAITSHELF_ASSIGN_OR_RETURN(const std::vector<Case> cases, MakeCases(model, options.frequency_hz));
  Json report = Json::Object();
  for (const Case& one : cases) {
    std::printf("%s, %s\n", options.robot.c_str(), one.name.c_str());
    Own own;
    GAITSHELF_RETURN_IF_ERROR(RunOwn(one, &own));
    GAITSHELF_RETURN_IF_ERROR(RunOwn(one, &own));
    Json runs = Json::List();
    for (const IpoptSetup& setup : Setups()) {
      if (!absl::StrContains(setup.name, options.only)) {
        continue;
      }
      PlanProgram program(one.stage);
      const IpoptRun run = SolveByIpopt(setup,
                                        {.processor_s = options.most_ratio * own.Median(),
                                         .asked_cost = kAsGood * own.score.cost},
                                        &program);
      // In turns, so that what else the machine does meets both.
      GAITSHELF_RETURN_IF_ERROR(RunOwn(one, &own));
      runs.Add(ReportRun(setup, run, own));
    }
    PrintOwn(own);
    report.Set(one.name,
               Json::Object()
                   .Set("planner_s", own.Median())
                   .Set("planner_cost", own.score.cost)
                   .Set("planner_violation", own.score.violation)
                   .Set("planner_iterations", own.iterations)
                   .Set("ipopt", runs));
  }
  return report;
}

}  // namespace gaitshelf::bench
