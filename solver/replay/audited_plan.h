// Plans until a plan passes its audit: other footfalls and finer knots where the first does not
// replay.
#ifndef GAITSHELF_SOLVER_REPLAY_AUDITED_PLAN_H_
#define GAITSHELF_SOLVER_REPLAY_AUDITED_PLAN_H_

#include <functional>
#include <optional>

#include "gaitshelf/v1/audit.pb.h"
#include "gaitshelf/v1/gait.pb.h"

#include "absl/status/statusor.h"
#include "solver/plan/plan_gait.h"
#include "solver/replay/audit_gait.h"

namespace gaitshelf::solver {

// The two steps of a variant.
struct AuditedPlanSteps {
  // Plans the request in the variant of this number, 0 for the first. The caller adds its progress
  // and its checkpoints, which carry the number.
  std::function<absl::StatusOr<v1::Gait>(const PlanRequest&, int variant)> plan;
  std::function<absl::StatusOr<v1::Audit>(const AuditRequest&)> audit;
};

// What a variant plans otherwise.
struct PlanVariant {
  v1::PlanOptions options;
  // Of the request (plan_gait.h).
  double steady_duty = 0.0;
  bool may_slide = false;
};

// Returns the variant of this number for an order whose first gait is not good, or nothing when it
// has no chance or repeats an earlier one. A maximal advance has variants of its own, which ask for
// less and less; its options stay. What the order itself fixes (pattern, knots) stays as it is.
// Only an order of several surfaces has one whose feet may slide, after all others.
std::optional<PlanVariant> NextVariant(const v1::GaitOrder& order,
                                       const v1::Gait& first,
                                       int next_variant);

// Plans and audits until a gait is good or no variant is left. Returns the good gait with its
// audit, or of the others the one that came nearest: a converged plan before one that is not, then
// the one whose replay goes as far as planned. A checkpoint in the request goes on in the variant
// that it belongs to. An audit that cannot be run leaves the gait without one.
//
// Errors:
//   as plan      the first variant gave no gait
//   kCancelled   plan or audit were stopped
absl::StatusOr<v1::Gait> PlanAudited(const PlanRequest& request, const AuditedPlanSteps& steps);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_AUDITED_PLAN_H_
