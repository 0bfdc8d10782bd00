#include "tests/bench/shares.h"

#include <cstdio>
#include <utility>
#include <vector>

#include "absl/strings/str_format.h"
#include "solver/base/status_macros.h"
#include "tests/bench/planner_case.h"
#include "tests/bench/processor_time.h"
#include "tests/bench/step_cost.h"

namespace gaitshelf::bench {
namespace {

constexpr int kPieceTimes = 20;

// Seconds on the wall of one solve.
struct Spent {
  double whole_s = 0.0;
  double with_derivatives_s = 0.0;
  double without_s = 0.0;
  int iterations = 0;
};

absl::StatusOr<Spent> Solve(solver::Stage* stage) {
  Spent spent;
  solver::PenaltyState penalty = FirstPenalty(*stage);
  solver::RoundState state;
  solver::RoundControl control;
  control.on_solved = [&spent](const ceres::Solver::Summary& summary) {
    spent.with_derivatives_s += summary.jacobian_evaluation_time_in_seconds;
    spent.without_s += summary.residual_evaluation_time_in_seconds;
  };
  const Stopwatch watch;
  GAITSHELF_RETURN_IF_ERROR(solver::SolveRounds(
      stage->problem, stage->schedule, control, &stage->unknowns, &penalty, &state));
  spent.whole_s = watch.wall_s();
  spent.iterations = state.iteration_count;
  return spent;
}

// One piece's share of the whole.
struct Share {
  const char* name;
  double ratio;
};

std::vector<Share> Divide(const Spent& spent, const StepCost& step) {
  const double per_step = spent.with_derivatives_s / step.Linearisation() / spent.whole_s;
  return {{"laws", per_step * step.laws_s},
          {"rows", per_step * step.rows_s},
          {"products", per_step * step.products_s},
          {"factoring", per_step * step.elimination_s},
          {"directions", per_step * step.directions_s},
          {"trials", spent.without_s / spent.whole_s},
          {"rest", 1.0 - (spent.with_derivatives_s + spent.without_s) / spent.whole_s}};
}

Json Report(const std::string& label, const Spent& spent, const std::vector<Share>& shares) {
  std::printf("%-26s %7.3f %5d", label.c_str(), spent.whole_s, spent.iterations);
  Json report = Json::Object().Set("case", label).Set("whole_s", spent.whole_s);
  for (const Share& share : shares) {
    std::printf(" %9.1f%%", 100.0 * share.ratio);
    report.Set(share.name, share.ratio);
  }
  std::printf("\n");
  std::fflush(stdout);
  return report;
}

void PrintHead(const std::vector<Share>& shares) {
  std::printf("%-26s %7s %5s", "", "whole s", "its");
  for (const Share& share : shares) {
    std::printf(" %10s", share.name);
  }
  std::printf("\n");
}

}  // namespace

absl::StatusOr<Json> MeasureShares(const std::string& robot) {
  Json rows = Json::List();
  Spent sum;
  std::vector<Share> mean;
  for (const double frequency_hz : {3.0, 12.0, 28.0}) {
    for (const char* surface : {"duct-steel", "liner-felt", "grit-tape"}) {
      const solver::RobotModel model = MakeCaseModel(ReadCaseRobot(robot), surface);
      const int knots = solver::StageKnots(MakeCaseOrder(frequency_hz)).front();
      solver::Stage stage = MakeCaseStage(model, frequency_hz, knots);
      GAITSHELF_ASSIGN_OR_RETURN(const Spent spent, Solve(&stage));
      GAITSHELF_ASSIGN_OR_RETURN(const StepCost step, MeasureStep(&stage, kPieceTimes));
      const std::vector<Share> shares = Divide(spent, step);
      if (mean.empty()) {
        PrintHead(shares);
        mean = shares;
        for (Share& share : mean) {
          share.ratio = 0.0;
        }
      }
      for (size_t i = 0; i < shares.size(); ++i) {
        mean[i].ratio += shares[i].ratio * spent.whole_s;
      }
      sum.whole_s += spent.whole_s;
      sum.iterations += spent.iterations;
      rows.Add(Report(
          absl::StrFormat("%s %.0f Hz, %d knots", surface, frequency_hz, knots), spent, shares));
    }
  }
  for (Share& share : mean) {
    share.ratio /= sum.whole_s;
  }
  return Json::Object().Set("cases", rows).Set("all", Report("all", sum, mean));
}

}  // namespace gaitshelf::bench
