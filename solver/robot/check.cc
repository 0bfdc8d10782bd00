#include "solver/robot/check.h"

#include <cmath>
#include <map>
#include <set>
#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "solver/robot/digest.h"
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

// Hop, stand and transition have no period.
void CheckNoFrequency(const std::string& task, double frequency_hz, Violations* violations) {
  if (frequency_hz != 0.0) {
    AddFault({"stride_frequency_hz",
              NumberText(frequency_hz),
              absl::StrCat("must be left out for a ", task, ", which has no period"),
              "take stride_frequency_hz out, or ask for an advance"},
             violations);
  }
}

std::string TaskName(const v1::Task& task) {
  return task.has_hop()          ? "hop"
         : task.has_stand()      ? "stand"
         : task.has_transition() ? "transition"
                                 : "advance";
}

// A transition takes surface and knots from its gaits.
void CheckTransitionAlone(const v1::GaitOrder& order, Violations* violations) {
  if (!order.also_on().empty()) {
    AddFault({"also_on",
              absl::StrCat(order.also_on_size(), " surfaces"),
              "does not go with a transition, which is planned on the surface of its gaits",
              "take also_on out"},
             violations);
  }
  if (order.options().knot_count() != 0) {
    AddFault({"options.knot_count",
              absl::StrCat(order.options().knot_count()),
              "does not go with a transition, whose knots are as far apart as those of to_gait",
              "take knot_count out, or order to_gait on more knots"},
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

// A name that stands twice says that something else was meant.
void CheckNamedOnce(const v1::GaitOrder& order, Violations* violations) {
  std::set<std::string> named = {order.surface()};
  for (int i = 0; i < order.also_on_size(); ++i) {
    if (!named.insert(order.also_on(i)).second) {
      AddFault({absl::StrCat("also_on[", i, "]"),
                QuotedText(order.also_on(i)),
                "is a surface that the order names already",
                "take it out, or name the other surface that was meant"},
               violations);
    }
  }
}

// All surfaces of one gait: one slope, and no version twice.
void CheckFurtherSurfaces(const v1::Surface& surface,
                          const std::vector<v1::Surface>& also_on,
                          Violations* violations) {
  std::map<std::string, std::string> named = {{SurfaceDigest(surface), surface.name()}};
  for (size_t i = 0; i < also_on.size(); ++i) {
    const v1::Surface& other = also_on[i];
    const std::string field = absl::StrCat("also_on[", i, "]");
    if (other.slope_rad() != surface.slope_rad()) {
      AddFault({field,
                absl::StrCat(QuotedText(other.name()), " of slope ", NumberText(other.slope_rad())),
                absl::StrCat("must have the slope_rad of surface ",
                             QuotedText(surface.name()),
                             ", which is ",
                             NumberText(surface.slope_rad()),
                             ": weight pulls another way on another slope"),
                "take it out and order a gait of its own for it"},
               violations);
    }
    const auto [same, is_new] = named.insert({SurfaceDigest(other), other.name()});
    if (!is_new && same->second != other.name()) {
      AddFault({field,
                QuotedText(other.name()),
                absl::StrCat("is described as ", QuotedText(same->second), " is"),
                "take it out: a gait that is good on the one is good on the other"},
               violations);
    }
  }
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
  CheckNamedOnce(order, &violations);
  if (order.task().has_advance()) {
    CheckFrequencyOfAdvance(order.stride_frequency_hz(), &violations);
    CheckAdvance(order.task().advance(), &violations);
  } else if (order.task().kind_case() != v1::Task::KIND_NOT_SET) {
    CheckNoFrequency(TaskName(order.task()), order.stride_frequency_hz(), &violations);
  }
  if (order.task().has_transition()) {
    CheckTransitionAlone(order, &violations);
  }
  return violations;
}

Violations CheckOrderFor(const v1::GaitOrder& order, const v1::Robot& robot) {
  Violations violations;
  const bool is_hop = order.task().has_hop();
  const bool is_stand = order.task().has_stand();
  if (order.task().kind_case() == v1::Task::KIND_NOT_SET) {
    return violations;  // CheckOrder says so.
  }
  const std::string task = TaskName(order.task());
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

Violations CheckOrderOn(const v1::GaitOrder& order,
                        const v1::Surface& surface,
                        const std::vector<v1::Surface>& also_on) {
  Violations violations;
  CheckFurtherSurfaces(surface, also_on, &violations);
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
