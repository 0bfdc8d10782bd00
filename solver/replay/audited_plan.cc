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
  double steady_duty;       // 0: not steady
  bool may_slide = false;   // on several surfaces
};

constexpr int kFinestKnots = 160;

// In the order of their success on drawn robots whose first plan failed its audit: between 5 and
// 12 Hz, near the body's own frequencies, a trot that is good on paper falls short in the replay by
// a tenth, and a walk or another grid does not. A slow walk that tips and drags its swinging feet
// replays when it is steady; the less of the cycle its feet stand, the longer its stride may be.
constexpr Variant kVariants[] = {
    {v1::SEED_PATTERN_UNSPECIFIED, 0, 0.0},
    {v1::SEED_PATTERN_WALK, 0, 0.0},
    {v1::SEED_PATTERN_UNSPECIFIED, 120, 0.0},
    {v1::SEED_PATTERN_WALK, 120, 0.0},
    {v1::SEED_PATTERN_WALK, 0, 0.65},
    {v1::SEED_PATTERN_WALK, 0, 0.6},
    {v1::SEED_PATTERN_WALK, 0, 0.55},
    {v1::SEED_PATTERN_UNSPECIFIED, kFinestKnots, 0.0},
    {v1::SEED_PATTERN_UNSPECIFIED, 0, 0.0, true},
};
constexpr int kVariantCount = static_cast<int>(std::size(kVariants));
// Plans that do not converge have climbed the planner's own ladder: one other pattern is enough,
// for a walk other duties, and for a plan that stalls just short of tolerance the finest grid.
bool IsWorthWithoutPlan(const Variant& variant, const v1::PlanReport& first) {
  if (variant.may_slide) {
    return true;
  }
  if (variant.knot_count != 0) {
    return variant.knot_count == kFinestKnots && first.outcome() == v1::PLAN_OUTCOME_AT_LIMIT;
  }
  return variant.pattern == v1::SEED_PATTERN_WALK &&
         (variant.steady_duty == 0.0 || first.seed_pattern() == v1::SEED_PATTERN_WALK);
}

// Hop, stand and transition have no pattern of their own; other knots seldom help one that falls.
constexpr int kHopVariants = 1;
// A maximal advance asks for ever less of what the legs reach until a plan replays. The first
// steps, where most robots end, are small: what a step goes too far is lost of the stride.
constexpr double kMaximalReaches[] = {1.0, 0.95, 0.9, 0.85, 0.8, 0.7, 0.6, 0.5, 0.4};
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
  const double off = std::max(std::abs(gait.audit().replay().plan_ratio() - 1.0),
                              gait.audit().worst_advance_error_ratio());
  return std::isfinite(off) ? std::min(1.0 + off, 1e2) : 1e2;
}

// A variant of an order with the planner's own choices made, which are those of the first gait.
Variant Resolve(const Variant& variant, const v1::PlanOptions& asked, const v1::Gait& first) {
  Variant resolved = variant;
  if (asked.seed_pattern() != v1::SEED_PATTERN_UNSPECIFIED) {
    resolved.pattern = asked.seed_pattern();
  } else if (variant.pattern == v1::SEED_PATTERN_UNSPECIFIED) {
    resolved.pattern = first.report().seed_pattern();
  }
  if (asked.knot_count() != 0) {
    resolved.knot_count = asked.knot_count();
  } else if (variant.knot_count == 0) {
    resolved.knot_count = first.knot_count();
  }
  return resolved;
}

bool IsRepeat(int next_variant, const v1::PlanOptions& asked, const v1::Gait& first) {
  const Variant next = Resolve(kVariants[next_variant], asked, first);
  return std::any_of(kVariants, kVariants + next_variant, [&](const Variant& variant) {
    const Variant earlier = Resolve(variant, asked, first);
    return earlier.pattern == next.pattern && earlier.knot_count == next.knot_count &&
           earlier.steady_duty == next.steady_duty && earlier.may_slide == next.may_slide;
  });
}

// Sets what the variant plans otherwise; false when the order has no such variant.
bool SetVariant(const v1::GaitOrder& order,
                const v1::Gait& first,
                int variant,
                PlanRequest* request) {
  const auto other = NextVariant(order, first, variant);
  if (other.has_value()) {
    *request->order.mutable_options() = other->options;
    request->steady_duty = other->steady_duty;
    request->may_slide = other->may_slide;
    if (IsMaximal(order)) {
      request->reach_ratio = kMaximalReaches[variant];
    }
  }
  return other.has_value();
}

// Plans and audits one variant.
absl::StatusOr<v1::Gait> RunVariant(const PlanRequest& request,
                                    const AuditedPlanSteps& steps,
                                    int variant) {
  GAITSHELF_ASSIGN_OR_RETURN(v1::Gait gait, steps.plan(request, variant));
  absl::StatusOr<v1::Audit> audit = steps.audit({.robot = request.robot,
                                                 .surface = request.surface,
                                                 .gait = gait,
                                                 .leg_tables = request.leg_tables,
                                                 .also_on = request.also_on,
                                                 .joined = request.joined});
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

std::optional<PlanVariant> NextVariant(const v1::GaitOrder& order,
                                       const v1::Gait& first,
                                       int next_variant) {
  const v1::PlanOptions& asked = order.options();
  if (IsMaximal(order)) {
    return next_variant < kMaximalVariants ? std::make_optional<PlanVariant>({asked})
                                           : std::nullopt;
  }
  if (next_variant >= kVariantCount) {
    return std::nullopt;
  }
  const Variant& variant = kVariants[next_variant];
  const bool is_other_pattern = !variant.may_slide && next_variant >= kHopVariants;
  if ((variant.may_slide && order.also_on().empty()) ||
      (is_other_pattern && !order.task().has_advance())) {
    return std::nullopt;
  }
  const bool is_steadied_otherwise = variant.steady_duty > 0.0 &&
                                     asked.seed_pattern() != v1::SEED_PATTERN_UNSPECIFIED &&
                                     asked.seed_pattern() != v1::SEED_PATTERN_WALK;
  const bool is_hopeless = !IsConverged(first) && !IsWorthWithoutPlan(variant, first.report());
  if (is_steadied_otherwise || is_hopeless || IsRepeat(next_variant, asked, first)) {
    return std::nullopt;
  }
  PlanVariant next = {asked, variant.steady_duty, variant.may_slide};
  if (asked.seed_pattern() == v1::SEED_PATTERN_UNSPECIFIED) {
    next.options.set_seed_pattern(variant.pattern);
  }
  if (asked.knot_count() == 0) {
    next.options.set_knot_count(variant.knot_count);
  }
  return next;
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
    SetVariant(request.order, earlier, variant, &variant_request);
  }
  GAITSHELF_ASSIGN_OR_RETURN(v1::Gait best, RunVariant(variant_request, steps, variant));
  variant_request.checkpoint.reset();
  v1::Gait first = best;
  if (variant > 0) {
    // Goes on after the first, of which only its convergence is known: what the planner chose there
    // is not what this variant has.
    first.clear_knot_count();
    first.mutable_report()->clear_seed_pattern();
  }
  for (++variant; !IsGood(best) && variant < kMostVariants; ++variant) {
    if (!SetVariant(request.order, first, variant, &variant_request)) {
      continue;
    }
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
