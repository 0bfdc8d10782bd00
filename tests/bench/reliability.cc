// Plans and audits orders that nobody tuned for and says how many come out good.
// Usage: reliability [--orders N] [--rng K] [--only INDEX] [--threads T] [--json FILE]
//                    [--knots K] [--pattern ANY|TROT|WALK|PACE|BOUND|PRONK]
#include <algorithm>
#include <cstdio>
#include <iostream>
#include <mutex>
#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/strings/str_join.h"
#include "solver/plan/plan_gait.h"
#include "solver/replay/audit_gait.h"
#include "solver/replay/audited_plan.h"
#include "solver/replay/nearest_task.h"
#include "solver/replay/parallel.h"
#include "tests/bench/json.h"
#include "tests/bench/options.h"
#include "tests/bench/orders.h"
#include "tests/bench/quantile.h"

namespace {

using gaitshelf::bench::DrawnOrder;
using gaitshelf::bench::DrawOrder;
using gaitshelf::bench::Json;
using gaitshelf::bench::Quantile;
using gaitshelf::bench::WriteJson;

struct Options {
  int orders = 300;
  int rng = 0;
  int only = -1;
  int threads = 2;
  std::string json;
  int knots = 0;                // 0 leaves the choice to the planner
  std::string pattern = "ANY";  // and so does this
};

struct Outcome {
  std::string label;
  std::string state;  // good, limit, infeasible, failed audit, error
  std::string reason;
  int rung = 0;
  int variant = 0;
  double solve_s = 0.0;
  double audit_s = 0.0;
  double plan_ratio = 0.0;
};

// The audit decides, as in the library: a plan that stalls within its limits is as good as another.
std::string StateOf(const gaitshelf::v1::Gait& gait) {
  if (gait.audit().verdict() == gaitshelf::v1::VERDICT_GOOD) {
    return "good";
  }
  switch (gait.report().outcome()) {
    case gaitshelf::v1::PLAN_OUTCOME_CONVERGED:
      return "failed audit";
    case gaitshelf::v1::PLAN_OUTCOME_AT_LIMIT:
      return "at limit";
    default:
      return "infeasible";
  }
}

Outcome RunOrder(const DrawnOrder& drawn) {
  Outcome outcome;
  outcome.label = drawn.label;
  double solve_s = 0.0;
  const auto plan = [&solve_s](const gaitshelf::solver::PlanRequest& request, int /*variant*/) {
    auto gait = gaitshelf::solver::PlanGait(request, {});
    solve_s += gait.ok() ? gait->report().solve_s() : 0.0;
    return gait;
  };
  const gaitshelf::solver::AuditedPlanSteps steps = {.plan = plan,
                                                     .audit = gaitshelf::solver::AuditGait};
  auto gait = gaitshelf::solver::PlanAudited(drawn.request, steps);
  if (gait.ok()) {
    if (const absl::Status status =
            gaitshelf::solver::FindNearestTask(drawn.request, steps, &*gait);
        !status.ok()) {
      gait = status;
    }
  }
  if (!gait.ok()) {
    outcome.state = "error";
    outcome.reason = gait.status().ToString();
    return outcome;
  }
  outcome.rung = gait->report().retry_rung();
  outcome.variant = gait->report().variant();
  outcome.solve_s = solve_s;
  outcome.reason = gait->report().reason();
  const gaitshelf::v1::Audit& audit = gait->audit();
  outcome.audit_s = audit.replay().cpu_s();
  outcome.plan_ratio = audit.replay().plan_ratio();
  outcome.state = StateOf(*gait);
  const std::string audit_reason =
      gait->has_audit() ? absl::StrJoin(audit.reasons(), "; ") : "no audit";
  absl::StrAppend(&outcome.reason, outcome.reason.empty() ? "" : "; ", audit_reason);
  return outcome;
}

int Report(const Options& options, const std::vector<Outcome>& outcomes, int first) {
  std::vector<double> solve_s;
  int good = 0;
  Json failures = Json::List();
  for (size_t i = 0; i < outcomes.size(); ++i) {
    const Outcome& outcome = outcomes[i];
    if (outcome.state == "good") {
      ++good;
      solve_s.push_back(outcome.solve_s);
      continue;
    }
    failures.Add(
        Json::Object()
            .Set("order", outcome.label)
            .Set("state", outcome.state)
            .Set("reason", outcome.reason)
            .Set("again",
                 absl::StrCat(
                     "reliability --rng ", options.rng, " --only ", first + static_cast<int>(i))));
  }
  const double good_rate = static_cast<double>(good) / static_cast<double>(outcomes.size());
  std::printf("%d of %zu good (%.1f %%); solve median %.2f s, 95th percentile %.2f s\n",
              good,
              outcomes.size(),
              100.0 * good_rate,
              Quantile(solve_s, 0.5),
              Quantile(solve_s, 0.95));
  return WriteJson(Json::Object()
                       .Set("orders", outcomes.size())
                       .Set("rng", options.rng)
                       .Set("good_rate", good_rate)
                       .Set("median_solve_s", Quantile(solve_s, 0.5))
                       .Set("p95_solve_s", Quantile(solve_s, 0.95))
                       .Set("failures", failures),
                   "reliability",
                   options.json);
}

}  // namespace

int main(int argc, char** argv) {
  Options options;
  if (!gaitshelf::bench::OptionReader("reliability")
           .Whole("--orders", {.least = 1}, &options.orders)
           .Whole("--rng", {}, &options.rng)
           .Whole("--only", {}, &options.only)
           .Whole("--threads", {.least = 1}, &options.threads)
           .Whole("--knots", {}, &options.knots)
           .Choice("--pattern", {"ANY", "TROT", "WALK", "PACE", "BOUND", "PRONK"}, &options.pattern)
           .Text("--json", "FILE", &options.json)
           .Read(argc, argv)) {
    return 2;
  }
  gaitshelf::v1::SeedPattern pattern = gaitshelf::v1::SEED_PATTERN_UNSPECIFIED;
  gaitshelf::v1::SeedPattern_Parse(absl::StrCat("SEED_PATTERN_", options.pattern), &pattern);
  const int first = std::max(options.only, 0);
  const int count = options.only >= 0 ? 1 : options.orders;
  std::vector<Outcome> outcomes(static_cast<size_t>(count));
  std::mutex print_mutex;
  const absl::Status status = gaitshelf::solver::RunPieces(count, options.threads, [&](int i) {
    const int index = first + i;
    DrawnOrder drawn = DrawOrder(options.rng, index);
    drawn.request.order.mutable_options()->set_knot_count(options.knots);
    drawn.request.order.mutable_options()->set_seed_pattern(pattern);
    Outcome outcome = RunOrder(drawn);
    {
      const std::lock_guard<std::mutex> lock(print_mutex);
      std::printf("%4d %-12s variant %d rung %d solve %6.2f s audit %5.2f s ratio %.3f  %s%s%s\n",
                  index,
                  outcome.state.c_str(),
                  outcome.variant,
                  outcome.rung,
                  outcome.solve_s,
                  outcome.audit_s,
                  outcome.plan_ratio,
                  outcome.label.c_str(),
                  outcome.reason.empty() ? "" : "\n       ",
                  outcome.reason.c_str());
      std::fflush(stdout);
    }
    outcomes[static_cast<size_t>(i)] = std::move(outcome);
    return absl::OkStatus();
  });
  if (!status.ok()) {
    std::cerr << "reliability: " << status << "\n";
    return 1;
  }
  return Report(options, outcomes, first);
}
