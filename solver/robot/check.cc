#include "solver/robot/check.h"

#include <cmath>
#include <string>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "solver/robot/leg_form.h"
#include "solver/robot/rule_walk.h"

namespace gaitshelf::solver {
namespace {

void CheckFrequencyOfAdvance(double frequency_hz, Violations* violations) {
  if (frequency_hz == 0.0) {
    AddFault({"stride_frequency_hz",
              kMissing,
              "is required for an advance and must be at least 0.1 and at most 200 Hz",
              "add stride_frequency_hz, such as 12"},
             violations);
    return;
  }
  // The library keys gaits at 1 mHz; a finer frequency would be served a gait of another one. 1e-6
  // mHz allows for the rounding of decimal input.
  const double frequency_mhz = frequency_hz * 1000.0;
  if (std::isfinite(frequency_hz) && std::abs(frequency_mhz - std::round(frequency_mhz)) > 1e-6) {
    AddFault({"stride_frequency_hz",
              NumberText(frequency_hz),
              "must be a whole number of thousandths of a hertz",
              absl::StrCat("give ", NumberText(std::round(frequency_mhz) / 1000.0))},
             violations);
  }
}

// Which numbers of an advance go together.
void CheckAdvance(const v1::Advance& advance, Violations* violations) {
  const bool is_given =
      advance.advance_m() != 0.0 || advance.sidestep_m() != 0.0 || advance.turn_rad() != 0.0;
  if (!is_given && !advance.is_maximal()) {
    AddFault(
        {"task.advance.advance_m",
         kMissing,
         "is required unless sidestep_m, turn_rad or is_maximal is given, and must be at least "
         "-0.1 and at most 0.1 m",
         "add advance_m in metres: 9 mm is 0.009"},
        violations);
  }
  if (is_given && advance.is_maximal()) {
    AddFault(
        {"task.advance.is_maximal",
         "true",
         "does not go with advance_m, sidestep_m or turn_rad: it goes straight ahead as far as "
         "it can",
         "take is_maximal out, or the others"},
        violations);
  }
}

// Hop and stand have no period.
void CheckNoFrequency(const std::string& task, double frequency_hz, Violations* violations) {
  if (frequency_hz != 0.0) {
    AddFault({"stride_frequency_hz",
              NumberText(frequency_hz),
              absl::StrCat("must be left out for a ", task, ", which has no period"),
              "take stride_frequency_hz out, or ask for an advance"},
             violations);
  }
}

bool IsFree(const v1::Robot& robot) { return robot.body().support() != v1::BODY_SUPPORT_CLAMPED; }

int DrivenLiftCount(const v1::Robot& robot) {
  int count = 0;
  for (const v1::Leg& leg : robot.legs()) {
    count += BimorphOf(leg, 0) != nullptr ? 1 : 0;
  }
  return count;
}

int DrivenSwingCount(const v1::Robot& robot) {
  int count = 0;
  for (const v1::Leg& leg : robot.legs()) {
    count += BimorphOf(leg, 1) != nullptr ? 1 : 0;
  }
  return count;
}

void AddTaskFault(const std::string& task,
                  const v1::Robot& robot,
                  const std::string& problem,
                  const std::string& mend,
                  Violations* violations) {
  AddFault({absl::StrCat("task.", task),
            absl::StrCat(task, " by robot ", QuotedText(robot.name())),
            problem,
            mend},
           violations);
}

}  // namespace

Violations CheckSurface(const v1::Surface& surface) {
  Violations violations;
  AddRuleFaults(surface, "", &violations);
  if (surface.has_friction_coefficient() &&
      surface.friction_uncertainty_coefficient() > surface.friction_coefficient()) {
    AddFault({"friction_uncertainty_coefficient",
              NumberText(surface.friction_uncertainty_coefficient()),
              absl::StrCat("must be at most friction_coefficient, which is ",
                           NumberText(surface.friction_coefficient())),
              "give the standard uncertainty as a plain number: 0.18 +- 0.03 has 0.03"},
             &violations);
  }
  return violations;
}

Violations CheckOrder(const v1::GaitOrder& order) {
  Violations violations;
  AddRuleFaults(order, "", &violations);
  if (order.task().has_advance()) {
    CheckFrequencyOfAdvance(order.stride_frequency_hz(), &violations);
    CheckAdvance(order.task().advance(), &violations);
  } else if (order.task().has_hop() || order.task().has_stand()) {
    CheckNoFrequency(
        order.task().has_hop() ? "hop" : "stand", order.stride_frequency_hz(), &violations);
  }
  return violations;
}

Violations CheckOrderFor(const v1::GaitOrder& order, const v1::Robot& robot) {
  Violations violations;
  const bool is_hop = order.task().has_hop();
  const bool is_stand = order.task().has_stand();
  if (!is_hop && !is_stand && !order.task().has_advance()) {
    return violations;  // CheckOrder says so.
  }
  const std::string task = is_hop ? "hop" : is_stand ? "stand" : "advance";
  if (!IsFree(robot)) {
    AddTaskFault(task,
                 robot,
                 "needs a free body, but body.support is BODY_SUPPORT_CLAMPED",
                 "order a robot whose body.support is BODY_SUPPORT_FREE",
                 &violations);
  }
  if ((is_hop || is_stand) && DrivenLiftCount(robot) == 0) {
    AddTaskFault(task,
                 robot,
                 "needs at least one leg with a bimorph on its lift, but there is none",
                 "order a robot with a bimorph on the lift of a leg",
                 &violations);
  }
  if (!is_hop && !is_stand && DrivenLiftCount(robot) + DrivenSwingCount(robot) == 0) {
    AddTaskFault(task,
                 robot,
                 "needs at least one driven leg, but no leg has a bimorph",
                 "order a robot with a bimorph on the swing or lift of a leg",
                 &violations);
  }
  return violations;
}

Violations CheckOrderOn(const v1::GaitOrder& order, const v1::Surface& surface) {
  Violations violations;
  const double turn_rad = order.task().advance().turn_rad();
  if (turn_rad != 0.0 && surface.slope_rad() != 0.0) {
    AddFault({"task.advance.turn_rad",
              NumberText(turn_rad),
              absl::StrCat("does not go with surface ",
                           QuotedText(surface.name()),
                           ", whose slope_rad is ",
                           NumberText(surface.slope_rad()),
                           ": each cycle of a turn would climb another way"),
              "order the turn on a level surface"},
             &violations);
  }
  return violations;
}

absl::Status ToStatus(const Violations& violations) {
  if (violations.empty()) {
    return absl::OkStatus();
  }
  const auto append = [](std::string* out, const v1::FieldViolation& violation) {
    absl::StrAppend(out,
                    violation.field(),
                    " is ",
                    violation.value(),
                    "; ",
                    violation.problem(),
                    "; ",
                    violation.mend());
  };
  return absl::InvalidArgumentError(absl::StrJoin(violations, "\n", append));
}

}  // namespace gaitshelf::solver
