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
  } else if (order.task().has_hop() && order.stride_frequency_hz() != 0.0) {
    AddFault({"stride_frequency_hz",
              NumberText(order.stride_frequency_hz()),
              "must be left out for a hop, which has no period",
              "take stride_frequency_hz out, or ask for an advance"},
             &violations);
  }
  return violations;
}

Violations CheckOrderFor(const v1::GaitOrder& order, const v1::Robot& robot) {
  Violations violations;
  const bool is_hop = order.task().has_hop();
  if (!is_hop && !order.task().has_advance()) {
    return violations;  // CheckOrder says so.
  }
  const std::string task = is_hop ? "hop" : "advance";
  if (!IsFree(robot)) {
    AddTaskFault(task,
                 robot,
                 "needs a free body, but body.support is BODY_SUPPORT_CLAMPED",
                 "order a robot whose body.support is BODY_SUPPORT_FREE",
                 &violations);
  }
  if (is_hop && DrivenLiftCount(robot) == 0) {
    AddTaskFault(task,
                 robot,
                 "needs at least one leg with a bimorph on its lift, but there is none",
                 "order a robot with a bimorph on the lift of a leg",
                 &violations);
  }
  if (!is_hop && DrivenLiftCount(robot) + DrivenSwingCount(robot) == 0) {
    AddTaskFault(task,
                 robot,
                 "needs at least one driven leg, but no leg has a bimorph",
                 "order a robot with a bimorph on the swing or lift of a leg",
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
