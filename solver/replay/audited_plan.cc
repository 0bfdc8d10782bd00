#include "solver/replay/audited_plan.h"

#include <cmath>
#include <iterator>
#include <string>
#include <utility>

#include "solver/base/status_macros.h"
#include "solver/robot/digest.h"

namespace gaitshelf::solver {
namespace {

struct Trial {
  v1::SeedPattern pattern;  // unspecified: the planner's own choice
  int knot_count;           // 0: the planner's own choice
};

// In the order of their success on drawn robots whose first plan failed its audit: between 5 and
// 12 Hz, near the body's own frequencies, a trot that is good on paper falls short in the replay by
// a tenth, and a walk or another grid does not.
constexpr Trial kTrials[] = {
    {v1::SEED_PATTERN_UNSPECIFIED, 0},
    {v1::SEED_PATTERN_WALK, 0},
    {v1::SEED_PATTERN_UNSPECIFIED, 120},
    {v1::SEED_PATTERN_WALK, 120},
    {v1::SEED_PATTERN_UNSPECIFIED, 160},
};
constexpr int kTrialCount = static_cast<int>(std::size(kTrials));
// Plans that do not converge have climbed the planner's own ladder: one other pattern is enough.
constexpr int kTrialsWithoutPlan = 2;
// A hop has no pattern; other knots seldom help one that falls.
constexpr int kHopTrials = 1;

bool IsConverged(const v1::Gait& gait) {
  return gait.report().outcome() == v1::PLAN_OUTCOME_CONVERGED;
}

bool IsGood(const v1::Gait& gait) { return gait.audit().verdict() == v1::VERDICT_GOOD; }

// How far a gait is from being good; only for comparisons.
double Shortfall(const v1::Gait& gait) {
  if (IsGood(gait)) {
    return 0.0;
  }
  if (!IsConverged(gait)) {
    return 1e3 + gait.report().violation_ratio();
  }
  const double off = std::abs(gait.audit().replay().plan_ratio() - 1.0);
  return std::isfinite(off) ? std::min(1.0 + off, 1e2) : 1e2;
}

// What the planner chooses when it is left the choice is what the first gait has.
bool IsRepeat(const v1::PlanOptions& options, const v1::Gait& first) {
  const bool has_pattern = options.seed_pattern() != v1::SEED_PATTERN_UNSPECIFIED;
  const bool has_knots = options.knot_count() != 0;
  return (!has_pattern || options.seed_pattern() == first.report().seed_pattern()) &&
         (!has_knots || options.knot_count() == first.knot_count());
}

// Plans and audits one trial.
absl::StatusOr<v1::Gait> RunTrial(const PlanRequest& request,
                                  const AuditedPlanSteps& steps,
                                  int trial) {
  GAITSHELF_ASSIGN_OR_RETURN(v1::Gait gait, steps.plan(request, trial));
  absl::StatusOr<v1::Audit> audit = steps.audit({.robot = request.robot,
                                                 .surface = request.surface,
                                                 .gait = gait,
                                                 .leg_tables = request.leg_tables});
  if (absl::IsCancelled(audit.status())) {
    return audit.status();
  }
  if (audit.ok()) {
    *gait.mutable_audit() = *std::move(audit);
  }
  if (trial > 0) {
    gait.mutable_report()->set_trial(trial);
    gait.set_name(GaitName(gait));
  }
  return gait;
}

}  // namespace

std::optional<v1::PlanOptions> NextTrial(const v1::GaitOrder& order,
                                         const v1::Gait& gait,
                                         int next_trial) {
  int limit = IsConverged(gait) ? kTrialCount : kTrialsWithoutPlan;
  if (order.task().has_hop()) {
    limit = kHopTrials;
  }
  const v1::PlanOptions& asked = order.options();
  if (next_trial >= limit) {
    return std::nullopt;
  }
  const Trial& trial = kTrials[next_trial];
  v1::PlanOptions options = asked;
  if (asked.seed_pattern() == v1::SEED_PATTERN_UNSPECIFIED) {
    options.set_seed_pattern(trial.pattern);
  }
  if (asked.knot_count() == 0) {
    options.set_knot_count(trial.knot_count);
  }
  const bool is_as_asked =
      options.seed_pattern() == asked.seed_pattern() && options.knot_count() == asked.knot_count();
  return is_as_asked || IsRepeat(options, gait) ? std::nullopt : std::make_optional(options);
}

absl::StatusOr<v1::Gait> PlanAudited(const PlanRequest& request, const AuditedPlanSteps& steps) {
  PlanRequest trial_request = request;
  int trial = request.checkpoint.has_value() ? request.checkpoint->trial() : 0;
  if (trial < 0 || trial >= kTrialCount) {
    trial = 0;
    trial_request.checkpoint.reset();
  }
  if (trial > 0) {
    v1::Gait earlier;
    earlier.mutable_report()->set_outcome(v1::PLAN_OUTCOME_CONVERGED);
    if (const auto options = NextTrial(request.order, earlier, trial); options.has_value()) {
      *trial_request.order.mutable_options() = *options;
    }
  }
  GAITSHELF_ASSIGN_OR_RETURN(v1::Gait best, RunTrial(trial_request, steps, trial));
  trial_request.checkpoint.reset();
  const v1::Gait first = best;
  for (++trial; !IsGood(best) && trial < kTrialCount; ++trial) {
    const auto options = NextTrial(request.order, first, trial);
    if (!options.has_value()) {
      continue;
    }
    *trial_request.order.mutable_options() = *options;
    absl::StatusOr<v1::Gait> gait = RunTrial(trial_request, steps, trial);
    if (absl::IsCancelled(gait.status())) {
      return gait.status();
    }
    if (gait.ok() && Shortfall(*gait) < Shortfall(best)) {
      best = *std::move(gait);
    }
  }
  return best;
}

}  // namespace gaitshelf::solver
