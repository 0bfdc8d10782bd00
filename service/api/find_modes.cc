#include "service/api/find_modes.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <vector>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "solver/base/status_macros.h"
#include "solver/leg/modes.h"
#include "solver/leg/robot_model.h"
#include "solver/leg/standing.h"
#include "solver/robot/digest.h"

namespace gaitshelf::service {
namespace {

using solver::FootCondition;

constexpr double kDefaultDuty = 0.5;
// A preload below this share of the weight is rounding.
constexpr double kPreloadRatio = 1e-9;

// Modes are wanted on a level surface; its friction does not matter.
v1::Surface LevelSurface() {
  v1::Surface surface;
  surface.set_name("level");
  surface.set_friction_coefficient(0.5);
  return surface;
}

// Units in which mass and stiffness are of order one.
solver::Scale ScaleOf(const solver::RobotModel& in_si) {
  constexpr double kSmallestLengthM = 1e-3;
  solver::Scale scale;
  scale.mass_kg = in_si.total_mass();
  scale.length_m = kSmallestLengthM;
  if (in_si.base_count() > 0) {
    scale.length_m = std::max(scale.length_m, in_si.ReferencePosture()[2]);
  }
  scale.time_s = std::sqrt(scale.length_m / solver::kGravityMPerS2);
  return scale;
}

FootCondition ConditionOf(const solver::RobotModel& model, v1::FootCondition asked) {
  switch (asked) {
    case v1::FOOT_CONDITION_FREE_FLIGHT:
      return FootCondition::kFreeFlight;
    case v1::FOOT_CONDITION_SLIDING:
      return FootCondition::kSliding;
    case v1::FOOT_CONDITION_STICKING:
      return FootCondition::kSticking;
    case v1::FOOT_CONDITION_CLAMPED:
      return FootCondition::kClamped;
    default:
      break;
  }
  if (model.base_count() == 0) {
    return FootCondition::kClamped;
  }
  return model.foot_count() > 0 ? FootCondition::kSliding : FootCondition::kFreeFlight;
}

v1::FootCondition ToMessage(FootCondition condition) {
  switch (condition) {
    case FootCondition::kFreeFlight:
      return v1::FOOT_CONDITION_FREE_FLIGHT;
    case FootCondition::kSliding:
      return v1::FOOT_CONDITION_SLIDING;
    case FootCondition::kSticking:
      return v1::FOOT_CONDITION_STICKING;
    case FootCondition::kClamped:
      return v1::FOOT_CONDITION_CLAMPED;
  }
  return v1::FOOT_CONDITION_UNSPECIFIED;
}

std::string ConditionText(FootCondition condition) {
  switch (condition) {
    case FootCondition::kFreeFlight:
      return "in free flight";
    case FootCondition::kSliding:
      return "on sliding feet";
    case FootCondition::kSticking:
      return "on sticking feet";
    case FootCondition::kClamped:
      return "with a clamped body";
  }
  return "";
}

void FillMode(const solver::Mode& mode, v1::Mode* message) {
  message->set_name(mode.name);
  message->set_frequency_hz(mode.frequency_hz);
  message->set_damping_ratio(mode.damping_ratio);
  message->set_is_unstable(mode.is_unstable);
  for (std::size_t i = 0; i < 6; ++i) {
    message->add_body_share_ratio(mode.energy_share[i]);
  }
  message->set_lift_share_ratio(mode.energy_share[6]);
  message->set_swing_share_ratio(mode.energy_share[7]);
}

void WarnOfModes(const std::vector<solver::Mode>& modes,
                 FootCondition condition,
                 double stride_hz,
                 v1::FindModesResponse* response) {
  for (const solver::Mode& mode : modes) {
    if (mode.is_unstable) {
      response->add_warnings(absl::StrFormat(
          "unstable: the robot falls by %s %s; its legs are too soft for its weight",
          mode.name,
          ConditionText(condition)));
    }
  }
  if (stride_hz <= 0.0) {
    return;
  }
  for (const solver::Mode& mode : solver::ModesNear(modes, stride_hz)) {
    response->add_warnings(
        absl::StrFormat("a stride of %.4g Hz sits on %s, %.4g Hz %s (within %.0f %%): small "
                        "changes will change the gait much",
                        stride_hz,
                        mode.name,
                        mode.frequency_hz,
                        ConditionText(condition),
                        solver::kOnModeRatio * 100.0));
  }
}

// Fills the voltages that hold the posture and warns of those that no drive can give.
void FillHold(const v1::Robot& robot,
              const solver::RobotModel& model,
              const solver::Standing& standing,
              v1::FindModesResponse* response) {
  const double weight =
      model.total_mass() * solver::kGravityMPerS2 / model.scale().acceleration_m_per_s2();
  for (std::size_t i = 0; i < model.drives().size(); ++i) {
    const solver::Drive& drive = model.drives()[i];
    const auto at = static_cast<Eigen::Index>(i);
    const std::string name =
        absl::StrCat(robot.legs(static_cast<int>(i / 2)).name(), i % 2 == 0 ? " lift" : " swing");
    const double u = standing.drive[at];
    const double hold_v = drive.is_present ? drive.bias_v + u * drive.half_range_v : 0.0;
    response->add_hold_v(hold_v);
    if (drive.is_present && (u < drive.lower || u > drive.upper)) {
      response->add_warnings(absl::StrFormat(
          "%s would need %.4g V to hold the posture, which its drive cannot give", name, hold_v));
    }
    const double preload = standing.preload[model.base_count() + at];
    if (std::abs(preload) > kPreloadRatio * weight) {
      response->add_warnings(
          absl::StrFormat("%s carries %.4g mN and no drive holds it; its flexures are taken as "
                          "preloaded by as much",
                          name,
                          std::abs(preload) * model.scale().force_n() * 1e3));
    }
  }
}

void CheckRange(double value,
                const std::string& field,
                double lower,
                double upper,
                const std::string& mend,
                solver::Violations* violations) {
  // Written so that no number is no pass.
  if (value != 0.0 && !(value >= lower && value <= upper)) {
    solver::AddFault(
        {field, solver::NumberText(value), absl::StrCat(lower, " to ", upper, " is allowed"), mend},
        violations);
  }
}

}  // namespace

solver::Violations CheckFindModes(const v1::FindModesRequest& request) {
  solver::Violations violations;
  if (request.source_case() == v1::FindModesRequest::SOURCE_NOT_SET ||
      (!request.has_robot() && request.name().empty())) {
    solver::AddFault({"name",
                      solver::kMissing,
                      "a robot is required",
                      "give the name of a robot in the library, or a description as robot"},
                     &violations);
  }
  if (!v1::FootCondition_IsValid(request.foot_condition())) {
    solver::AddFault({"foot_condition",
                      absl::StrCat(static_cast<int>(request.foot_condition())),
                      "is no foot condition",
                      "use free flight (1), sliding (2), sticking (3) or clamped (4)"},
                     &violations);
  }
  CheckRange(request.stride_frequency_hz(),
             "stride_frequency_hz",
             0.1,
             200.0,
             "give cycles per second, or leave it out",
             &violations);
  CheckRange(request.duty_ratio(),
             "duty_ratio",
             0.1,
             1.0,
             "give the share of the cycle for which a foot stands, such as 0.5",
             &violations);
  return violations;
}

absl::StatusOr<v1::FindModesResponse> FindModesOf(const v1::Robot& robot,
                                                  const v1::FindModesRequest& request) {
  const v1::Surface level = LevelSurface();
  GAITSHELF_ASSIGN_OR_RETURN(const solver::RobotModel in_si,
                             solver::RobotModel::Create(robot, level, solver::Scale()));
  GAITSHELF_ASSIGN_OR_RETURN(solver::RobotModel model,
                             solver::RobotModel::Create(robot, level, ScaleOf(in_si)));
  const FootCondition condition = ConditionOf(model, request.foot_condition());
  if (condition == FootCondition::kFreeFlight) {
    if (model.base_count() == 0) {
      return absl::FailedPreconditionError(
          "body.support is clamped, so the robot does not fly; ask for a clamped body, or free "
          "the body in the description");
    }
    model = model.InFreeFall();
  }
  GAITSHELF_ASSIGN_OR_RETURN(const solver::Standing standing,
                             solver::FindStanding(model, condition));
  const std::vector<solver::Mode> modes = solver::FindModes(model, standing);

  v1::FindModesResponse response;
  response.set_robot_digest(solver::RobotDigest(robot));
  response.set_foot_condition(ToMessage(condition));
  for (const solver::Mode& mode : modes) {
    FillMode(mode, response.add_modes());
  }
  const double highest_hz = solver::HighestFrequency(modes);
  response.set_bare_sample_rate_hz(solver::kBareSamplesPerPeriod * highest_hz);
  response.set_least_sample_rate_hz(solver::kSamplesPerPeriod * highest_hz);
  WarnOfModes(modes, condition, request.stride_frequency_hz(), &response);
  FillHold(robot, model, standing, &response);
  const double duty = request.duty_ratio() > 0.0 ? request.duty_ratio() : kDefaultDuty;
  response.set_duty_ratio(duty);
  response.set_advance_reach_m(solver::AdvanceReach(model, duty) * model.scale().length_m);
  if (condition == FootCondition::kSliding || condition == FootCondition::kSticking) {
    response.set_lift_margin_ratio(solver::LiftMargin(model, standing, duty));
  }
  return response;
}

}  // namespace gaitshelf::service
