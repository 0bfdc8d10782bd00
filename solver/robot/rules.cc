#include "solver/robot/rules.h"

#include <cmath>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "solver/robot/violation.h"

namespace gaitshelf::solver {
namespace {

// Makers of table lines.
constexpr FieldRule Number(absl::string_view field, double lower, double upper) {
  return {field, FieldKind::kNumber, Presence::kOptional, lower, upper, false, 0};
}
constexpr FieldRule RequiredNumber(absl::string_view field, double lower, double upper) {
  return {field, FieldKind::kNumber, Presence::kRequired, lower, upper, false, 0};
}
// More than 0, so that a number left out is a fault.
constexpr FieldRule Positive(absl::string_view field, double upper) {
  return {field, FieldKind::kNumber, Presence::kRequired, 0.0, upper, true, 0};
}
constexpr FieldRule PositiveIfGiven(absl::string_view field, double upper) {
  return {field, FieldKind::kNumber, Presence::kOptional, 0.0, upper, true, 0};
}
constexpr FieldRule ThreeNumbers(absl::string_view field, Presence presence, double size) {
  return {field, FieldKind::kNumbers, presence, -size, size, false, 3};
}
constexpr FieldRule PositiveTriple(absl::string_view field, Presence presence, double upper) {
  return {field, FieldKind::kNumbers, presence, 0.0, upper, true, 3};
}
constexpr FieldRule Other(absl::string_view field, FieldKind kind, Presence presence) {
  return {field, kind, presence, 0.0, 0.0, false, 0};
}
constexpr FieldRule Parts(absl::string_view field, int count) {
  return {field, FieldKind::kParts, Presence::kOptional, 0.0, 0.0, false, count};
}

constexpr auto kRequired = Presence::kRequired;
constexpr auto kOptional = Presence::kOptional;

constexpr FieldRule kRules[] = {
    Other("Robot.name", FieldKind::kName, kRequired),
    Other("Robot.title", FieldKind::kLine, kOptional),
    Other("Robot.body", FieldKind::kPart, kRequired),
    Parts("Robot.legs", 16),
    Parts("Robot.body_feet", 16),
    Other("Robot.leg_controller", FieldKind::kPart, kOptional),
    Other("Robot.uncertainty", FieldKind::kPart, kOptional),

    Positive("Body.mass_kg", 10.0),
    PositiveTriple("Body.inertia_kg_m2", kRequired, 1.0),
    ThreeNumbers("Body.center_of_mass_m", kOptional, 1.0),
    PositiveTriple("Body.size_m", kOptional, 2.0),
    Other("Body.support", FieldKind::kChoice, kOptional),
    Number("Body.clamp_height_m", 0.0, 1.0),

    Other("Leg.name", FieldKind::kName, kRequired),
    Other("Leg.lumped", FieldKind::kPart, kOptional),
    Other("Leg.linkage", FieldKind::kPart, kOptional),

    ThreeNumbers("LumpedLeg.foot_m", kRequired, 1.0),
    Positive("LumpedLeg.foot_mass_kg", 1.0),
    Other("LumpedLeg.lift", FieldKind::kPart, kRequired),
    Other("LumpedLeg.swing", FieldKind::kPart, kRequired),

    ThreeNumbers("LegCoordinate.direction_ratio", kRequired, 1.0),
    Number("LegCoordinate.min_m", -0.1, 0.1),
    Number("LegCoordinate.max_m", -0.1, 0.1),
    Number("LegCoordinate.stiffness_n_per_m", 0.0, 1e6),
    Number("LegCoordinate.damping_n_s_per_m", 0.0, 1e3),
    Number("LegCoordinate.moving_mass_kg", 0.0, 1.0),
    Number("LegCoordinate.stop_stiffness_n_per_m", 0.0, 1e6),
    Other("LegCoordinate.bimorph", FieldKind::kPart, kOptional),
    Number("LegCoordinate.transmission_ratio", -1e3, 1e3),

    Parts("LinkageLeg.links", 16),
    Parts("LinkageLeg.flexures", 16),
    Parts("LinkageLeg.closing_flexures", 7),
    Other("LinkageLeg.foot_link", FieldKind::kName, kRequired),
    ThreeNumbers("LinkageLeg.foot_m", kRequired, 1.0),
    Other("LinkageLeg.lift", FieldKind::kPart, kRequired),
    Other("LinkageLeg.swing", FieldKind::kPart, kRequired),

    Other("Link.name", FieldKind::kName, kRequired),
    Positive("Link.mass_kg", 1.0),
    ThreeNumbers("Link.center_of_mass_m", kRequired, 1.0),
    FieldRule{"Link.inertia_kg_m2", FieldKind::kNumbers, kRequired, -1.0, 1.0, false, 6},

    Number("FlexureBending.stiffness_n_m_per_rad", 0.0, 1e3),
    Other("FlexureBending.film", FieldKind::kPart, kOptional),
    Number("FlexureBending.damping_s", 0.0, 1.0),
    Positive("FlexureFilm.width_m", 1.0),
    Positive("FlexureFilm.thickness_m", 0.01),
    Positive("FlexureFilm.length_m", 0.1),
    Positive("FlexureFilm.modulus_pa", 1e12),

    Other("Flexure.name", FieldKind::kName, kRequired),
    Other("Flexure.parent", FieldKind::kName, kRequired),
    Other("Flexure.child", FieldKind::kName, kRequired),
    ThreeNumbers("Flexure.point_m", kRequired, 1.0),
    ThreeNumbers("Flexure.axis_ratio", kRequired, 1.0),
    Other("Flexure.bending", FieldKind::kPart, kRequired),

    Other("ClosingFlexure.name", FieldKind::kName, kRequired),
    Other("ClosingFlexure.link_a", FieldKind::kName, kRequired),
    Other("ClosingFlexure.link_b", FieldKind::kName, kRequired),
    ThreeNumbers("ClosingFlexure.point_m", kRequired, 1.0),
    ThreeNumbers("ClosingFlexure.axis_ratio", kRequired, 1.0),
    Other("ClosingFlexure.bending", FieldKind::kPart, kRequired),

    Other("LinkageCoordinate.flexure", FieldKind::kName, kRequired),
    Number("LinkageCoordinate.min_rad", -2.0, 2.0),
    Number("LinkageCoordinate.max_rad", -2.0, 2.0),
    Number("LinkageCoordinate.stop_stiffness_n_per_m", 0.0, 1e6),
    Other("LinkageCoordinate.drive", FieldKind::kPart, kOptional),

    Other("LinkageDrive.link", FieldKind::kName, kRequired),
    ThreeNumbers("LinkageDrive.pin_m", kRequired, 1.0),
    ThreeNumbers("LinkageDrive.direction_ratio", kRequired, 1.0),
    Other("LinkageDrive.bimorph", FieldKind::kPart, kRequired),

    PositiveIfGiven("Bimorph.gain_n_per_v", 1e3),  // check_bimorph.cc says when it is required
    Number("Bimorph.stiffness_n_per_m", 0.0, 1e6),
    Number("Bimorph.moving_mass_kg", 0.0, 1.0),
    Number("Bimorph.min_v", -1000.0, 1000.0),
    Number("Bimorph.max_v", -1000.0, 1000.0),
    Number("Bimorph.bias_v", -1000.0, 1000.0),
    Positive("Bimorph.slew_v_per_s", 1e9),
    Number("Bimorph.capacitance_f", 0.0, 1e-3),
    Other("Bimorph.layers", FieldKind::kPart, kOptional),

    Positive("BimorphLayers.length_m", 0.1),
    Positive("BimorphLayers.width_m", 0.1),
    Positive("BimorphLayers.piezo_thickness_m", 0.01),
    Number("BimorphLayers.shim_thickness_m", 0.0, 0.01),
    Number("BimorphLayers.shim_modulus_pa", 0.0, 9e11),
    PositiveIfGiven("BimorphLayers.piezo_modulus_pa", 9e11),
    PositiveIfGiven("BimorphLayers.piezo_compliance_per_pa", 1e-9),
    Positive("BimorphLayers.charge_constant_m_per_v", 1e-8),
    Number("BimorphLayers.permittivity_ratio", 0.0, 1e5),
    Other("BimorphLayers.wiring", FieldKind::kChoice, kOptional),

    Other("BodyFoot.name", FieldKind::kName, kRequired),
    ThreeNumbers("BodyFoot.point_m", kRequired, 1.0),

    Number("LegController.lift_gain_v_per_m", 0.0, 1e9),
    Number("LegController.lift_rate_gain_v_s_per_m", 0.0, 1e6),
    Number("LegController.swing_gain_v_per_m", 0.0, 1e9),
    Number("LegController.swing_rate_gain_v_s_per_m", 0.0, 1e6),
    PositiveIfGiven("LegController.hop_gain_ratio", 1.0),

    RequiredNumber("RobotUncertainty.mass_ratio", 0.0, 0.3),
    RequiredNumber("RobotUncertainty.stiffness_ratio", 0.0, 0.3),
    RequiredNumber("RobotUncertainty.gain_ratio", 0.0, 0.3),

    Other("Trial.kind", FieldKind::kChoice, kOptional),  // check_trial.cc says what is required
    Other("Trial.title", FieldKind::kLine, kOptional),
    Number("Trial.stride_frequency_hz", 0.0, 200.0),
    Other("Trial.requester", FieldKind::kLine, kOptional),
    Parts("Trial.groups", 16),
    Other("TrialGroup.name", FieldKind::kName, kRequired),
    Other("TrialGroup.clock", FieldKind::kChoice, kOptional),
    Number("TrialGroup.sample_rate_hz", 0.0, 1e5),
    Parts("TrialGroup.columns", 200),
    Other("TrialColumn.label", FieldKind::kLine, kRequired),
    Number("AnalysisOptions.greatest_delay_s", 0.0, 10.0),
    Number("AnalysisOptions.left_out_count", 0.0, 1e6),

    Other("Surface.name", FieldKind::kName, kRequired),
    Other("Surface.title", FieldKind::kLine, kOptional),
    RequiredNumber("Surface.friction_coefficient", 0.0, 3.0),
    Number("Surface.friction_uncertainty_coefficient", 0.0, 1.0),
    Number("Surface.slope_rad", 0.0, 1.4),
    Other("Surface.friction_method", FieldKind::kChoice, kOptional),
    Other("Surface.measured_on", FieldKind::kDate, kOptional),

    Other("Task.advance", FieldKind::kPart, kOptional),
    Other("Task.hop", FieldKind::kPart, kOptional),
    Other("Task.stand", FieldKind::kPart, kOptional),
    Other("Task.transition", FieldKind::kPart, kOptional),
    // check.cc says which of these go together.
    Number("Advance.advance_m", -0.1, 0.1),
    Number("Advance.sidestep_m", -0.1, 0.1),
    Number("Advance.turn_rad", -0.8, 0.8),
    Other("Advance.is_maximal", FieldKind::kChoice, kOptional),
    Positive("Hop.rise_m", 0.1),
    Number("Hop.advance_m", -0.1, 0.1),
    Number("Stand.height_m", -0.1, 0.1),
    Number("Stand.roll_rad", -0.5, 0.5),
    Number("Stand.pitch_rad", -0.5, 0.5),
    Other("Transition.from_gait", FieldKind::kName, kRequired),
    Number("Transition.from_phase_ratio", 0.0, 1.0),
    Other("Transition.to_gait", FieldKind::kName, kRequired),
    Number("Transition.to_phase_ratio", 0.0, 1.0),
    RequiredNumber("Transition.cycle_count", 1.0, 8.0),

    Other("GaitOrder.robot", FieldKind::kName, kRequired),
    Other("GaitOrder.surface", FieldKind::kName, kRequired),
    // 0 for a hop and a stand; check.cc says which.
    FieldRule{"GaitOrder.stride_frequency_hz", FieldKind::kNumber, kOptional, 0.1, 200.0, false, 0},
    Other("GaitOrder.task", FieldKind::kPart, kRequired),
    Other("GaitOrder.objective", FieldKind::kChoice, kOptional),
    Other("GaitOrder.options", FieldKind::kPart, kOptional),
    FieldRule{"GaitOrder.also_on", FieldKind::kNames, kOptional, 0.0, 0.0, false, 8},
    Other("PlanOptions.seed_pattern", FieldKind::kChoice, kOptional),
    Number("PlanOptions.rng", 0.0, 2147483647.0),
    Number("PlanOptions.knot_count", 16.0, 400.0),
};

// Longest suffix first where one ends in another.
constexpr Unit kUnits[] = {
    {"_kg_m2", "kg m^2", "kilogram square metres", "61 g mm^2 is 6.1e-8"},
    {"_v_s_per_m", "V s/m", "volt seconds per metre", "0.148 V s/mm is 148"},
    {"_n_s_per_m", "N s/m", "newton seconds per metre", "1 N s/mm is 1000"},
    {"_n_per_m", "N/m", "newtons per metre", "1.4 N/mm is 1400"},
    {"_n_per_v", "N/V", "newtons per volt", "1.8 mN/V is 0.0018"},
    {"_v_per_s", "V/s", "volts per second", "200 V/ms is 2e5"},
    {"_m_per_v", "m/V", "metres per volt", "274 pm/V is 2.74e-10"},
    {"_v_per_m", "V/m", "volts per metre", "154 V/mm is 1.54e5"},
    {"_n_m_per_rad", "N m/rad", "newton metres per radian", "25 mN mm/rad is 2.5e-5"},
    {"_coefficient", "", "a plain number", "18 % is 0.18"},
    {"_ratio", "", "a plain number", "30 % is 0.3"},
    {"_rad", "rad", "radians", "5 degrees are 0.0873"},
    {"_per_pa", "1/Pa", "reciprocal pascals", "16.5 pm^2/N is 1.65e-11"},
    {"_pa", "Pa", "pascals", "2.5 GPa is 2.5e9"},
    {"_hz", "Hz", "hertz", "720 cycles per minute are 12"},
    {"_kg", "kg", "kilograms", "1.9 g is 0.0019"},
    {"_m", "m", "metres", "38 mm is 0.038"},
    {"_s", "s", "seconds", "0.08 ms is 8e-5"},
    {"_v", "V", "volts", "0.1 kV is 100"},
    {"_f", "F", "farads", "4.7 nF is 4.7e-9"},
};

}  // namespace

const FieldRule* FindRule(const google::protobuf::FieldDescriptor& field) {
  const std::string key = absl::StrCat(field.containing_type()->name(), ".", field.name());
  for (const FieldRule& rule : kRules) {
    if (rule.field == key) {
      return &rule;
    }
  }
  return nullptr;
}

const Unit* FindUnit(absl::string_view field_name) {
  for (const Unit& unit : kUnits) {
    if (absl::EndsWith(field_name, unit.suffix)) {
      return &unit;
    }
  }
  return nullptr;
}

std::string RangeText(const FieldRule& rule) {
  const Unit* unit = FindUnit(rule.field);
  const std::string symbol =
      unit == nullptr || unit->symbol.empty() ? "" : absl::StrCat(" ", unit->symbol);
  const std::string range = absl::StrCat(rule.is_lower_open ? "more than " : "at least ",
                                         NumberText(rule.lower),
                                         " and at most ",
                                         NumberText(rule.upper),
                                         symbol);
  if (rule.kind == FieldKind::kNumbers) {
    return absl::StrCat("must be ", rule.count, " numbers, each ", range);
  }
  // An optional number whose range leaves out 0 may still be 0, which means that it was left out.
  const bool may_be_zero = rule.presence == Presence::kOptional &&
                           (rule.lower > 0.0 || (rule.is_lower_open && rule.lower == 0.0));
  return absl::StrCat("must be ", range, may_be_zero ? ", or left out" : "");
}

std::string MendText(const FieldRule& rule) {
  const Unit* unit = FindUnit(rule.field);
  if (absl::EndsWith(rule.field, ".direction_ratio") || absl::EndsWith(rule.field, ".axis_ratio")) {
    return "give a unit vector x, y, z: straight up is [0, 0, 1]";
  }
  const std::string what = rule.kind != FieldKind::kNumbers ? ""
                           : rule.count == 6                ? "xx, yy, zz, xy, xz, yz in "
                                                            : "x, y, z in ";
  if (unit == nullptr) {
    return absl::StrCat("give a whole number; it ", RangeText(rule));
  }
  return absl::StrCat("give ", what, unit->name, ": ", unit->example);
}

}  // namespace gaitshelf::solver
