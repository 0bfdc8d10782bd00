#include "solver/calibrate/friction.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numbers>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "solver/base/constants.h"
#include "solver/base/status_macros.h"
#include "solver/calibrate/noise.h"
#include "solver/robot/leg_form.h"

namespace gaitshelf::solver {
namespace {

// The most that a surface's description allows.
constexpr double kMostFriction = 3.0;
// What a sled must have moved before its pull counts, m: the first slip is friction at the start.
constexpr double kMovedM = 1e-4;
// A description that states no uncertainty of its friction knows it to about this share, as
// handbook values differ (common practice, no source).
constexpr double kUnstatedRatio = 0.3;

absl::Status RowError(std::size_t row, const std::string& what) {
  return absl::InvalidArgumentError(absl::StrCat("row ", row + 1, ": ", what));
}

absl::Status CheckTilt(std::size_t row, double tilt_rad, double tipping_rad) {
  const double degrees = tilt_rad * 180.0 / std::numbers::pi;
  if (tilt_rad >= tipping_rad) {
    return RowError(row,
                    absl::StrFormat("tilt is %.2f deg, at which what stands on the plane tips over "
                                    "(%.2f deg), so it did not slide; leave the row out",
                                    degrees,
                                    tipping_rad * 180.0 / std::numbers::pi));
  }
  if (!(tilt_rad >= 0.0) || std::tan(tilt_rad) > kMostFriction) {
    return RowError(row,
                    absl::StrFormat("tilt is %.2f deg; a friction of 0 to %.0f slides at 0 to %.1f "
                                    "deg",
                                    degrees,
                                    kMostFriction,
                                    std::atan(kMostFriction) * 180.0 / std::numbers::pi));
  }
  return absl::OkStatus();
}

struct Values {
  std::vector<double> list;
  bool is_moving = false;
};

// One value for each repetition.
absl::StatusOr<Values> ReadTilt(const FrictionTest& test) {
  const auto* tilt = test.table->FindColumn({.quantity = v1::TRIAL_QUANTITY_TILT});
  const auto* distance = test.table->FindColumn({.quantity = v1::TRIAL_QUANTITY_SLIDE_DISTANCE});
  const auto* time = test.table->FindColumn({.quantity = v1::TRIAL_QUANTITY_SLIDE_TIME});
  Values values;
  values.is_moving = distance != nullptr && time != nullptr;
  for (std::size_t row = 0; tilt != nullptr && row < tilt->size(); ++row) {
    const double tilt_rad = (*tilt)[row];
    if (std::isnan(tilt_rad)) {
      continue;
    }
    GAITSHELF_RETURN_IF_ERROR(CheckTilt(row, tilt_rad, test.tipping_rad));
    double friction = std::tan(tilt_rad);
    if (values.is_moving) {
      const double distance_m = (*distance)[row], time_s = (*time)[row];
      if (std::isnan(distance_m) || std::isnan(time_s)) {
        continue;
      }
      if (!(distance_m > 0.0) || !(time_s > 0.0)) {
        return RowError(row,
                        absl::StrFormat("slide distance is %g m and slide time %g s; both must be "
                                        "more than 0",
                                        distance_m,
                                        time_s));
      }
      friction -= 2.0 * distance_m / (kGravityMPerS2 * time_s * time_s * std::cos(tilt_rad));
      if (friction < 0.0) {
        return RowError(row,
                        absl::StrFormat("it slid %g m in %g s, faster than without any friction; "
                                        "check units and tilt",
                                        distance_m,
                                        time_s));
      }
    }
    values.list.push_back(friction);
  }
  return values;
}

absl::StatusOr<Values> ReadSled(const FrictionTest& test) {
  const auto* pull = test.table->FindColumn({.quantity = v1::TRIAL_QUANTITY_PULL_FORCE});
  const auto* normal = test.table->FindColumn({.quantity = v1::TRIAL_QUANTITY_NORMAL_FORCE});
  const auto* distance = test.table->FindColumn({.quantity = v1::TRIAL_QUANTITY_SLIDE_DISTANCE});
  Values values;
  values.is_moving = distance != nullptr;
  double start_m = std::nan("");
  for (std::size_t row = 0; pull != nullptr && normal != nullptr && row < pull->size(); ++row) {
    if (distance != nullptr) {
      const double at_m = (*distance)[row];
      start_m = std::isnan(start_m) ? at_m : start_m;
      if (!(std::abs(at_m - start_m) > kMovedM)) {
        continue;
      }
    }
    if (std::isnan((*pull)[row]) || std::isnan((*normal)[row])) {
      continue;
    }
    if (!((*normal)[row] > 0.0)) {
      return RowError(
          row, absl::StrFormat("normal force is %g N; it must be more than 0", (*normal)[row]));
    }
    values.list.push_back((*pull)[row] / (*normal)[row]);
  }
  return values;
}

// Mean with what its scatter leaves; samples of one pull hang together, repetitions do not.
FrictionFigure Summarize(const Values& values, bool is_series) {
  FrictionFigure figure;
  figure.count = static_cast<std::int64_t>(values.list.size());
  figure.is_moving = values.is_moving;
  const auto count = static_cast<double>(figure.count);
  for (const double value : values.list) {
    figure.friction += value / count;
  }
  std::vector<double> off;
  for (const double value : values.list) {
    off.push_back(value - figure.friction);
  }
  const Noise noise = MeasureNoise(off);
  const double independent = std::max(1.0, count / (is_series ? noise.run_length : 1.0));
  if (independent > 1.0) {
    figure.degrees_of_freedom = independent - 1.0;
    figure.deviation = noise.deviation * std::sqrt(independent / (independent - 1.0));
    figure.uncertainty = figure.deviation / std::sqrt(independent);
  } else {
    figure.degrees_of_freedom = 0.0;
  }
  return figure;
}

}  // namespace

absl::StatusOr<FrictionFigure> MeasureFriction(const FrictionTest& test) {
  const bool is_sled = test.table->trial().kind() == v1::TRIAL_KIND_SLED;
  GAITSHELF_ASSIGN_OR_RETURN(const Values values, is_sled ? ReadSled(test) : ReadTilt(test));
  if (values.list.empty()) {
    return absl::FailedPreconditionError(
        is_sled ? "no row has pull and normal force while the sled moves"
                : "no row has all of tilt, slide distance and slide time");
  }
  FrictionFigure figure = Summarize(values, is_sled);
  figure.trial = test.table->trial().name();
  figure.method = is_sled ? v1::FRICTION_METHOD_SLED : v1::FRICTION_METHOD_TILT;
  const double shared =
      is_sled ? test.options.force_uncertainty_ratio() * figure.friction
              : (1.0 + figure.friction * figure.friction) * test.options.tilt_uncertainty_rad();
  const double scatter = figure.uncertainty;
  figure.uncertainty = std::hypot(scatter, shared);
  if (figure.uncertainty == 0.0) {
    return absl::FailedPreconditionError(
        absl::StrCat(figure.count,
                     " value without scatter tells no uncertainty; measure again, or state the "
                     "instrument's"));
  }
  // The instrument's share is taken as known, so only the scatter's freedom counts.
  figure.degrees_of_freedom =
      scatter > 0.0 ? figure.degrees_of_freedom * std::pow(figure.uncertainty / scatter, 4)
                    : std::numeric_limits<double>::infinity();
  return figure;
}

FrictionFigure CombineFriction(absl::Span<const FrictionFigure> figures) {
  if (figures.size() == 1) {
    return figures.front();
  }
  FrictionFigure all;
  double weights = 0.0;
  for (const FrictionFigure& figure : figures) {
    const double weight = 1.0 / (figure.uncertainty * figure.uncertainty);
    all.friction += weight * figure.friction;
    weights += weight;
    all.count += figure.count;
  }
  all.friction /= weights;
  all.uncertainty = 1.0 / std::sqrt(weights);
  double chi_square = 0.0, freedom = 0.0;
  for (const FrictionFigure& figure : figures) {
    const double off = (figure.friction - all.friction) / figure.uncertainty;
    chi_square += off * off;
    // Share of the variance of the mean that this figure has.
    const double share = std::pow(all.uncertainty / figure.uncertainty, 2);
    freedom += share * share / figure.degrees_of_freedom;
  }
  all.degrees_of_freedom = freedom > 0.0 ? 1.0 / freedom : std::numeric_limits<double>::infinity();
  all.birge_ratio = std::max(1.0, std::sqrt(chi_square / static_cast<double>(figures.size() - 1)));
  all.uncertainty *= all.birge_ratio;
  const auto best = std::min_element(
      figures.begin(), figures.end(), [](const FrictionFigure& a, const FrictionFigure& b) {
        return a.uncertainty < b.uncertainty;
      });
  all.method = best->method;
  all.is_moving = best->is_moving;
  return all;
}

double DescribedFrictionRatio(const v1::Surface& surface) {
  const double friction = surface.friction_coefficient();
  const double stated = surface.friction_uncertainty_coefficient();
  return stated > 0.0 && friction > 0.0 ? stated / friction : kUnstatedRatio;
}

double TippingAngle(const v1::Robot& robot) {
  double rear_m = std::numeric_limits<double>::infinity(), low_m = rear_m;
  double moment_x = 0.0, moment_z = 0.0;
  const auto& center = robot.body().center_of_mass_m();
  if (center.size() == 3) {
    moment_x = robot.body().mass_kg() * center[0];
    moment_z = robot.body().mass_kg() * center[2];
  }
  for (const v1::Leg& leg : robot.legs()) {
    const Triple& foot = RestFoot(leg);
    rear_m = std::min(rear_m, foot[0]);
    low_m = std::min(low_m, foot[2]);
    // Legs weigh little beside the body: they count as if they hung at their feet.
    moment_x += LegMass(leg) * foot[0];
    moment_z += LegMass(leg) * foot[2];
  }
  for (const v1::BodyFoot& foot : robot.body_feet()) {
    rear_m = std::min(rear_m, foot.point_m(0));
    low_m = std::min(low_m, foot.point_m(2));
  }
  const double mass_kg = TotalMass(robot);
  const double height_m = moment_z / mass_kg - low_m;
  return std::isfinite(rear_m) && height_m > 0.0 ? std::atan2(moment_x / mass_kg - rear_m, height_m)
                                                 : std::numeric_limits<double>::infinity();
}

}  // namespace gaitshelf::solver
