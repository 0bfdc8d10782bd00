#include "solver/replay/audited_plan.h"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <string>
#include <utility>

#include "solver/base/status_macros.h"
#include "solver/robot/digest.h"

namespace gaitshelf::solver {
namespace {

struct Variant {
  v1::SeedPattern pattern;  // unspecified: the planner's own choice
  int knot_count;           // 0: the planner's own choice
};

// In the order of their success on drawn robots whose first plan failed its audit: between 5 and
// 12 Hz, near the body's own frequencies, a trot that is good on paper falls short in the replay by
// a tenth, and a walk or another grid does not.
constexpr Variant kVariants[] = {
    {v1::SEED_PATTERN_UNSPECIFIED, 0},
    {v1::SEED_PATTERN_WALK, 0},
    {v1::SEED_PATTERN_UNSPECIFIED, 120},
    {v1::SEED_PATTERN_WALK, 120},
    {v1::SEED_PATTERN_UNSPECIFIED, 160},
};
constexpr int kVariantCount = static_cast<int>(std::size(kVariants));
// Plans that do not converge have climbed the planner's own ladder: one other pattern is enough.
constexpr int kVariantsWithoutPlan = 2;
// Hop and stand have no pattern; other knots seldom help one that falls.
constexpr int kHopVariants = 1;
// A maximal advance asks for ever less of what the legs reach until a plan replays.
constexpr double kMaximalReaches[] = {1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4};
constexpr int kMaximalVariants = static_cast<int>(std::size(kMaximalReaches));
constexpr int kMostVariants = std::max(kVariantCount, kMaximalVariants);

bool IsMaximal(const v1::GaitOrder& order) { return order.task().advance().is_maximal(); }

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

// Plans and audits one variant.
absl::StatusOr<v1::Gait> RunVariant(const PlanRequest& request,
                                    const AuditedPlanSteps& steps,
                                    int variant) {
  GAITSHELF_ASSIGN_OR_RETURN(v1::Gait gait, steps.plan(request, variant));
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
  if (variant > 0) {
    gait.mutable_report()->set_variant(variant);
    gait.set_name(GaitName(gait));
  }
  return gait;
}

}  // namespace

std::optional<v1::PlanOptions> NextVariant(const v1::GaitOrder& order,
                                           const v1::Gait& gait,
                                           int next_variant) {
  if (IsMaximal(order)) {
    return next_variant < kMaximalVariants ? std::make_optional(order.options()) : std::nullopt;
  }
  int limit = IsConverged(gait) ? kVariantCount : kVariantsWithoutPlan;
  if (!order.task().has_advance()) {
    limit = kHopVariants;
  }
  const v1::PlanOptions& asked = order.options();
  if (next_variant >= limit) {
    return std::nullopt;
  }
  const Variant& variant = kVariants[next_variant];
  v1::PlanOptions options = asked;
  if (asked.seed_pattern() == v1::SEED_PATTERN_UNSPECIFIED) {
    options.set_seed_pattern(variant.pattern);
  }
  if (asked.knot_count() == 0) {
    options.set_knot_count(variant.knot_count);
  }
  const bool is_as_asked =
      options.seed_pattern() == asked.seed_pattern() && options.knot_count() == asked.knot_count();
  return is_as_asked || IsRepeat(options, gait) ? std::nullopt : std::make_optional(options);
}

absl::StatusOr<v1::Gait> PlanAudited(const PlanRequest& request, const AuditedPlanSteps& steps) {
  PlanRequest variant_request = request;
  int variant = request.checkpoint.has_value() ? request.checkpoint->variant() : 0;
  if (variant < 0 || variant >= (IsMaximal(request.order) ? kMaximalVariants : kVariantCount)) {
    variant = 0;
    variant_request.checkpoint.reset();
  }
  if (variant > 0) {
    v1::Gait earlier;
    earlier.mutable_report()->set_outcome(v1::PLAN_OUTCOME_CONVERGED);
    if (const auto options = NextVariant(request.order, earlier, variant); options.has_value()) {
      *variant_request.order.mutable_options() = *options;
    }
  }
  const auto set_reach = [&] {
    if (IsMaximal(request.order)) {
      variant_request.reach_ratio = kMaximalReaches[variant];
    }
  };
  set_reach();
  GAITSHELF_ASSIGN_OR_RETURN(v1::Gait best, RunVariant(variant_request, steps, variant));
  variant_request.checkpoint.reset();
  const v1::Gait first = best;
  for (++variant; !IsGood(best) && variant < kMostVariants; ++variant) {
    const auto options = NextVariant(request.order, first, variant);
    if (!options.has_value()) {
      continue;
    }
    *variant_request.order.mutable_options() = *options;
    set_reach();
    absl::StatusOr<v1::Gait> gait = RunVariant(variant_request, steps, variant);
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
