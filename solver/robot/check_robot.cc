// CheckRobot: the rules of single fields, then those of body and legs, then of the whole.
#include <map>
#include <string>

#include "absl/strings/str_cat.h"
#include "solver/robot/check.h"
#include "solver/robot/check_body.h"
#include "solver/robot/check_leg.h"
#include "solver/robot/rule_walk.h"

namespace gaitshelf::solver {
namespace {

// Feet are told apart by name, whether they belong to a leg or to the body.
void CheckNamesAreUnique(const v1::Robot& robot, Violations* violations) {
  std::map<std::string, std::string> first_field;
  const auto check = [&](const std::string& name, const std::string& field) {
    if (name.empty()) {
      return;
    }
    const auto [entry, is_new] = first_field.emplace(name, field);
    if (!is_new) {
      AddFault({field,
                QuotedText(name),
                absl::StrCat("is also the name in ", entry->second),
                "give every leg and every body foot a name of its own"},
               violations);
    }
  };
  for (int i = 0; i < robot.legs_size(); ++i) {
    check(robot.legs(i).name(), absl::StrCat("legs[", i, "].name"));
  }
  for (int i = 0; i < robot.body_feet_size(); ++i) {
    check(robot.body_feet(i).name(), absl::StrCat("body_feet[", i, "].name"));
  }
}

void CheckWhole(const v1::Robot& robot, Violations* violations) {
  if (robot.legs_size() + robot.body_feet_size() == 0) {
    AddFault({"legs",
              kMissing,
              "needs at least one leg, or at least one of body_feet",
              "add legs { ... } or body_feet { ... }"},
             violations);
  }
  if (robot.legs_size() > 0 && !robot.has_leg_controller()) {
    AddFault({"leg_controller",
              kMissing,
              "is required when there are legs",
              "add leg_controller { ... } with the gains of the controller on the robot"},
             violations);
  }
  CheckNamesAreUnique(robot, violations);
}

}  // namespace

Violations CheckRobot(const v1::Robot& robot) {
  Violations violations;
  AddRuleFaults(robot, "", &violations);
  AddBodyFaults(robot.body(), &violations);
  for (int i = 0; i < robot.legs_size(); ++i) {
    AddLegFaults(robot, i, &violations);
  }
  for (int i = 0; i < robot.body_feet_size(); ++i) {
    CheckPointIsNear(robot.body(),
                     robot.body_feet(i).point_m(),
                     absl::StrCat("body_feet[", i, "].point_m"),
                     &violations);
  }
  CheckWhole(robot, &violations);
  return violations;
}

}  // namespace gaitshelf::solver
