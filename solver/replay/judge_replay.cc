#include "solver/replay/judge_replay.h"

#include <algorithm>
#include <cmath>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "solver/base/constants.h"
#include "solver/base/planar_motion.h"
#include "solver/leg/plane.h"
#include "solver/replay/limits.h"

namespace gaitshelf::solver {
namespace {

using Limits = AuditLimits;

bool IsStraight(const v1::Gait& gait) { return gait.sidestep_m() == 0.0 && gait.turn_rad() == 0.0; }

void JudgeMotion(const RobotModel& model,
                 const v1::Gait& gait,
                 const v1::ReplayReport& replay,
                 v1::Audit* audit) {
  const MotionMatch match =
      CompareMotions({gait.advance_m(), gait.sidestep_m(), gait.turn_rad()},
                     {replay.advance_m(), replay.sidestep_m(), replay.turn_rad()},
                     TurnLever(model) * model.scale().length_m);
  // Written so that a NaN fails.
  if (std::abs(match.share - 1.0) <= Limits::kPlanDeviationRatio &&
      match.aside <= Limits::kPlanDeviationRatio &&
      (gait.turn_rad() == 0.0 ||
       std::abs(replay.turn_rad() / gait.turn_rad() - 1.0) <= Limits::kTurnDeviationRatio)) {
    return;
  }
  audit->add_reasons(absl::StrFormat(
      "The replay advances %.2f mm, sidesteps %.2f mm and turns %.1f deg per cycle; planned are "
      "%.2f mm, %.2f mm and %.1f deg. It makes %.1f %% of the plan and %.1f %% besides; the limit "
      "is %.0f %% off, of the turn %.0f %%.",
      1e3 * replay.advance_m(),
      1e3 * replay.sidestep_m(),
      kDegreesPerRad * replay.turn_rad(),
      1e3 * gait.advance_m(),
      1e3 * gait.sidestep_m(),
      kDegreesPerRad * gait.turn_rad(),
      1e2 * match.share,
      1e2 * match.aside,
      1e2 * Limits::kPlanDeviationRatio,
      1e2 * Limits::kTurnDeviationRatio));
}

// The plan must hold what was asked, and the replay what is planned.
void JudgeStand(const RobotModel& model,
                const v1::Gait& gait,
                const v1::ReplayReport& replay,
                v1::Audit* audit) {
  const double asked_m =
      model.ReferencePosture()[2] * model.scale().length_m + gait.task().stand().height_m();
  const double planned_m = gait.body_position_m(2);
  const double limit_m = Limits::kStandRatio * asked_m;
  const double roll_rad = gait.body_attitude_rad(0) - gait.task().stand().roll_rad();
  const double pitch_rad = gait.body_attitude_rad(1) - gait.task().stand().pitch_rad();
  if (!(std::abs(planned_m - asked_m) <= limit_m &&
        std::hypot(roll_rad, pitch_rad) <= Limits::kStandRatio)) {
    audit->add_reasons(absl::StrFormat(
        "The plan stands %.2f mm high, rolled %.3f and pitched %.3f rad; asked are %.2f mm, %.3f "
        "and %.3f rad. The limits are %.2f mm and %.2f rad off.",
        1e3 * planned_m,
        gait.body_attitude_rad(0),
        gait.body_attitude_rad(1),
        1e3 * asked_m,
        gait.task().stand().roll_rad(),
        gait.task().stand().pitch_rad(),
        1e3 * limit_m,
        Limits::kStandRatio));
  }
  const double off_m = std::abs(replay.plan_ratio() - 1.0) * planned_m;
  if (!(off_m <= limit_m && std::abs(replay.advance_m()) <= limit_m)) {
    audit->add_reasons(
        absl::StrFormat("The replay stands %.2f mm off the plan's height and drifts by %.2f mm per "
                        "cycle; the limit "
                        "is %.2f mm.",
                        1e3 * off_m,
                        1e3 * replay.advance_m(),
                        1e3 * limit_m));
  }
}

// A hop must also land where it was planned to.
void JudgeLanding(const v1::Gait& gait, const v1::ReplayReport& replay, v1::Audit* audit) {
  const double limit_m =
      Limits::kPlanDeviationRatio * (std::abs(gait.advance_m()) + gait.task().hop().rise_m());
  if (gait.task().hop().advance_m() != 0.0 &&
      !(std::abs(replay.advance_m() - gait.advance_m()) <= limit_m)) {
    audit->add_reasons(absl::StrFormat(
        "The replay lands after %.2f mm; the plan after %.2f mm, and the limit is %.2f mm off.",
        1e3 * replay.advance_m(),
        1e3 * gait.advance_m(),
        1e3 * limit_m));
  }
}

void JudgeDistance(const RobotModel& model,
                   const v1::Gait& gait,
                   const v1::ReplayReport& replay,
                   v1::Audit* audit) {
  if (gait.task().has_stand()) {
    JudgeStand(model, gait, replay, audit);
    return;
  }
  if (gait.is_periodic() && !IsStraight(gait)) {
    JudgeMotion(model, gait, replay, audit);
    return;
  }
  JudgeLanding(gait, replay, audit);
  if (std::abs(replay.plan_ratio() - 1.0) <= Limits::kPlanDeviationRatio) {
    return;
  }
  if (gait.is_periodic()) {
    audit->add_reasons(
        absl::StrFormat("The replay advances %.2f mm per cycle, %.1f %% of the plan's %.2f mm; the "
                        "limit is %.0f %% "
                        "off.",
                        1e3 * replay.advance_m(),
                        1e2 * replay.plan_ratio(),
                        1e3 * gait.advance_m(),
                        1e2 * Limits::kPlanDeviationRatio));
  } else {
    audit->add_reasons(
        absl::StrFormat("The replay rises %.2f mm, %.1f %% of the plan; the limit is %.0f %% off.",
                        1e3 * replay.rise_m(),
                        1e2 * replay.plan_ratio(),
                        1e2 * Limits::kPlanDeviationRatio));
  }
}

// Sliding under load that a foot is allowed in a cycle, m. The feet of a body that turns or
// sidesteps have ways of their own. A leg moves its foot fore and aft and up, not sideways: what
// the cycle moves the foot's place sideways by, it slides.
double SlipLimit(const RobotModel& model, const v1::Gait& gait, int foot) {
  if (gait.task().has_stand()) {
    return Limits::kStandRatio * model.ReferencePosture()[2] * model.scale().length_m;
  }
  if (IsStraight(gait) || foot >= model.foot_count()) {
    return Limits::kDragRatio * std::abs(gait.advance_m());
  }
  FootKinematics kinematics;
  model.EvaluateFoot(model.ReferencePosture(), foot, false, &kinematics);
  const Eigen::Vector3d place_m = kinematics.position * model.scale().length_m;
  const double along_m = gait.advance_m() - gait.turn_rad() * place_m.y();
  const double across_m = gait.sidestep_m() + gait.turn_rad() * place_m.x();
  return Limits::kDragRatio * std::hypot(along_m, across_m) + std::abs(across_m);
}

void JudgeFeet(const RobotModel& model,
               const v1::Gait& gait,
               const v1::ReplayReport& replay,
               v1::Audit* audit) {
  if (!gait.is_periodic()) {
    return;
  }
  for (int i = 0; i < replay.slip_m_size(); ++i) {
    const double limit_m = SlipLimit(model, gait, i);
    if (replay.slip_m(i) > limit_m) {
      audit->add_reasons(absl::StrFormat(
          "Foot %s drags: it slides %.2f mm under load in a cycle; the limit is %.2f mm.",
          i < gait.foot_names_size() ? gait.foot_names(i) : absl::StrCat(i),
          1e3 * replay.slip_m(i),
          1e3 * limit_m));
    }
  }
}

void JudgeTravel(const RobotModel& model, const v1::ReplayReport& replay, v1::Audit* audit) {
  double half_m = 0.0;
  for (const Travel& travel : model.travels()) {
    const double own_m = 0.5 * (travel.upper - travel.lower) * model.scale().length_m;
    half_m = half_m == 0.0 ? own_m : std::min(half_m, own_m);
  }
  const double limit_m = Limits::kOvertravelRatio * half_m;
  if (replay.peak_overtravel_m() > limit_m) {
    audit->add_reasons(
        absl::StrFormat("A leg goes %.2f mm beyond its travel; the limit is %.2f mm.",
                        1e3 * replay.peak_overtravel_m(),
                        1e3 * limit_m));
  }
}

// A return that is off by more than a plan may be off by.
void JudgeReturn(const v1::Gait& to, const v1::ReplayReport& replay, v1::Audit* audit) {
  const double alone_m = to.audit().replay().advance_m();
  // Written so that a NaN fails.
  if (alone_m != 0.0 &&
      !(std::abs(replay.transition().after_ratio() - 1.0) <= Limits::kPlanDeviationRatio)) {
    audit->add_reasons(absl::StrFormat(
        "After the transition the replay advances %.2f mm per cycle, %.1f %% of the %.2f mm that "
        "the gait makes by itself; the limit is %.0f %% off.",
        1e3 * replay.transition().after_advance_m(),
        1e2 * replay.transition().after_ratio(),
        1e3 * alone_m,
        1e2 * Limits::kPlanDeviationRatio));
  }
}

}  // namespace

void JudgeResiduals(const v1::PlanResiduals& residuals, v1::Audit* audit) {
  // Written so that a NaN fails.
  if (!(residuals.worst_ratio() < Limits::kWorstResidual)) {
    audit->add_reasons(absl::StrFormat(
        "The plan breaks a law at its own knots by %.2g in scaled units; the limit is %.0g "
        "(dynamics %.2g, penetration %.2g, complementarity %.2g, cone %.2g, dissipation %.2g, "
        "periodicity %.2g, voltage %.2g, travel %.2g).",
        residuals.worst_ratio(),
        Limits::kWorstResidual,
        residuals.dynamics_ratio(),
        residuals.penetration_ratio(),
        residuals.complementarity_ratio(),
        residuals.cone_ratio(),
        residuals.dissipation_ratio(),
        residuals.periodicity_ratio(),
        residuals.voltage_ratio(),
        residuals.travel_ratio()));
  }
}

void JudgeReplay(const RobotModel& model,
                 const v1::Gait& gait,
                 const v1::ReplayReport& replay,
                 v1::Audit* audit) {
  JudgeDistance(model, gait, replay, audit);
  JudgeFeet(model, gait, replay, audit);
  JudgeTravel(model, replay, audit);
}

void JudgeTransition(const RobotModel& model,
                     const v1::Transition& transition,
                     const TransitionGaits& gaits,
                     const v1::ReplayReport& replay,
                     v1::Audit* audit) {
  JudgeReplay(model, gaits.to, replay, audit);
  JudgeReturn(gaits.to, replay, audit);
  const double cycles = PlaceTransition(transition, gaits).cycles;
  for (int i = 0; i < replay.transition().slip_m_size(); ++i) {
    const double limit_m =
        0.5 * cycles * (SlipLimit(model, gaits.from, i) + SlipLimit(model, gaits.to, i));
    if (!(replay.transition().slip_m(i) <= limit_m)) {
      audit->add_reasons(
          absl::StrFormat("Foot %s drags: it slides %.2f mm under load during the transition; the "
                          "limit is %.2f mm.",
                          i < gaits.to.foot_names_size() ? gaits.to.foot_names(i) : absl::StrCat(i),
                          1e3 * replay.transition().slip_m(i),
                          1e3 * limit_m));
    }
  }
}

}  // namespace gaitshelf::solver
