#include "solver/replay/nearest_task.h"

#include <cmath>
#include <utility>
#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/strings/str_join.h"
#include "solver/base/constants.h"
#include "solver/base/status_macros.h"
#include "solver/robot/check.h"
#include "solver/robot/digest.h"

namespace gaitshelf::solver {
namespace {

// The answer is then within a sixteenth of the task that was asked for.
constexpr int kHalvings = 4;

double Rounded(double value, double unit) { return std::round(value / unit) * unit; }
double RoundedLength(double value_m) { return Rounded(value_m, 1e-5); }
double RoundedAngle(double value_rad) { return Rounded(value_rad, 1e-4); }

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
                                                       .leg_tables = request.leg_tables,
                                                       .also_on = request.also_on});
  if (absl::IsCancelled(audit.status())) {
    return audit.status();
  }
  return audit.ok() && audit->verdict() == v1::VERDICT_GOOD;
}

}  // namespace

v1::Task ScaleTask(const v1::Task& task, double share) {
  v1::Task scaled = task;
  if (task.has_advance()) {
    v1::Advance& advance = *scaled.mutable_advance();
    advance.set_advance_m(RoundedLength(share * advance.advance_m()));
    advance.set_sidestep_m(RoundedLength(share * advance.sidestep_m()));
    advance.set_turn_rad(RoundedAngle(share * advance.turn_rad()));
  } else if (task.has_hop()) {
    scaled.mutable_hop()->set_rise_m(RoundedLength(share * task.hop().rise_m()));
    scaled.mutable_hop()->set_advance_m(RoundedLength(share * task.hop().advance_m()));
  } else if (task.has_stand()) {
    v1::Stand& stand = *scaled.mutable_stand();
    stand.set_height_m(RoundedLength(share * stand.height_m()));
    stand.set_roll_rad(RoundedAngle(share * stand.roll_rad()));
    stand.set_pitch_rad(RoundedAngle(share * stand.pitch_rad()));
  }
  return scaled;
}

std::string DescribeTask(const v1::Task& task) {
  std::vector<std::string> parts;
  if (task.has_stand()) {
    const v1::Stand& stand = task.stand();
    parts.push_back(
        absl::StrFormat("a stand %.2f mm above the reference height", 1e3 * stand.height_m()));
    if (stand.roll_rad() != 0.0 || stand.pitch_rad() != 0.0) {
      parts.push_back(absl::StrFormat("rolled by %.1f and pitched by %.1f deg",
                                      kDegreesPerRad * stand.roll_rad(),
                                      kDegreesPerRad * stand.pitch_rad()));
    }
    return absl::StrJoin(parts, ", ");
  }
  if (task.has_hop()) {
    const std::string rise = absl::StrFormat("a hop of %.2f mm", 1e3 * task.hop().rise_m());
    return task.hop().advance_m() == 0.0
               ? rise
               : absl::StrFormat("%s over %.2f mm", rise, 1e3 * task.hop().advance_m());
  }
  const v1::Advance& advance = task.advance();
  if (advance.advance_m() != 0.0) {
    parts.push_back(absl::StrFormat("an advance of %.2f mm", 1e3 * advance.advance_m()));
  }
  if (advance.sidestep_m() != 0.0) {
    parts.push_back(absl::StrFormat("a sidestep of %.2f mm", 1e3 * advance.sidestep_m()));
  }
  if (advance.turn_rad() != 0.0) {
    parts.push_back(absl::StrFormat("a turn of %.1f deg", kDegreesPerRad * advance.turn_rad()));
  }
  return absl::StrCat(absl::StrJoin(parts, " and "), " per cycle");
}

absl::Status FindNearestTask(const PlanRequest& request,
                             const AuditedPlanSteps& steps,
                             v1::Gait* gait) {
  const v1::Task& asked = request.order.task();
  if (gait->audit().verdict() == v1::VERDICT_GOOD || asked.advance().is_maximal() ||
      asked.has_transition()) {
    return absl::OkStatus();
  }
  PlanRequest share_request = request;
  share_request.checkpoint.reset();
  share_request.most_attempts = 1;
  double met = 0.0;
  double not_met = 1.0;
  v1::Task nearest;
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
  if (met == 0.0) {
    return absl::OkStatus();
  }
  v1::PlanReport& report = *gait->mutable_report();
  *report.mutable_nearest_task() = nearest;
  report.set_reason(absl::StrCat(report.reason(),
                                 report.reason().empty() ? "" : "; ",
                                 "the nearest that plans and replays is ",
                                 DescribeTask(nearest)));
  gait->set_name(GaitName(*gait));
  return absl::OkStatus();
}

}  // namespace gaitshelf::solver
