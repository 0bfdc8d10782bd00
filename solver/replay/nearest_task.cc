#include "solver/replay/nearest_task.h"

#include <cmath>
#include <optional>
#include <utility>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "solver/base/status_macros.h"
#include "solver/robot/check.h"
#include "solver/robot/digest.h"

namespace gaitshelf::solver {
namespace {

constexpr int kHalvings = 4;

double Rounded(double value_m) {
  constexpr double kUnit = 1e-5;
  return std::round(value_m / kUnit) * kUnit;
}

absl::StatusOr<bool> IsMet(const PlanRequest& request, const AuditedPlanSteps& steps) {
  const absl::StatusOr<v1::Gait> gait = steps.plan(request, kNearestVariant);
  if (absl::IsCancelled(gait.status())) {
    return gait.status();
  }
  if (!gait.ok() || gait->report().outcome() != v1::PLAN_OUTCOME_CONVERGED) {
    return false;
  }
  const absl::StatusOr<v1::Audit> audit = steps.audit({.robot = request.robot,
                                                       .surface = request.surface,
                                                       .gait = *gait,
                                                       .leg_tables = request.leg_tables});
  if (absl::IsCancelled(audit.status())) {
    return audit.status();
  }
  return audit.ok() && audit->verdict() == v1::VERDICT_GOOD;
}

}  // namespace

v1::Task ScaleTask(const v1::Task& task, double share) {
  v1::Task scaled = task;
  if (task.has_advance()) {
    scaled.mutable_advance()->set_advance_m(Rounded(share * task.advance().advance_m()));
  } else if (task.has_hop()) {
    scaled.mutable_hop()->set_rise_m(Rounded(share * task.hop().rise_m()));
  }
  return scaled;
}

std::string DescribeTask(const v1::Task& task) {
  return task.has_hop()
             ? absl::StrFormat("a hop of %.2f mm", 1e3 * task.hop().rise_m())
             : absl::StrFormat("an advance of %.2f mm per cycle", 1e3 * task.advance().advance_m());
}

absl::Status FindNearestTask(const PlanRequest& request,
                             const AuditedPlanSteps& steps,
                             v1::Gait* gait) {
  if (gait->audit().verdict() == v1::VERDICT_GOOD) {
    return absl::OkStatus();
  }
  PlanRequest share_request = request;
  share_request.checkpoint.reset();
  share_request.most_attempts = 1;
  double met = 0.0;
  double not_met = 1.0;
  std::optional<v1::Task> nearest;
  for (int i = 0; i < kHalvings; ++i) {
    const double share = 0.5 * (met + not_met);
    v1::Task task = ScaleTask(request.order.task(), share);
    *share_request.order.mutable_task() = task;
    if (!CheckOrder(share_request.order).empty()) {
      break;  // too small to be a task
    }
    GAITSHELF_ASSIGN_OR_RETURN(const bool is_met, IsMet(share_request, steps));
    (is_met ? met : not_met) = share;
    if (is_met) {
      nearest = std::move(task);
    }
  }
  if (!nearest.has_value()) {
    return absl::OkStatus();
  }
  v1::PlanReport& report = *gait->mutable_report();
  report.set_reason(absl::StrCat(report.reason(),
                                 report.reason().empty() ? "" : "; ",
                                 "the nearest that plans and replays is ",
                                 DescribeTask(*nearest)));
  gait->set_name(GaitName(*gait));
  return absl::OkStatus();
}

}  // namespace gaitshelf::solver
