#include "solver/robot/plausible.h"

#include <string>

#include "absl/strings/str_cat.h"
#include "solver/robot/leg_form.h"

namespace gaitshelf::solver {
namespace {

// What is measured of a kind of material, and how far from it a number may be unremarked. The
// ranges are wide on purpose (own choice, a factor of about 2 beyond the figures): they find slips
// of units, not poor data.
struct Plausible {
  double lower;
  double upper;
  const char* known;
};

// Sources: a data sheet of polyimide film (2.5 GPa at 23 C, 2.0 at 200 C).
constexpr Plausible kFilmModulusPa = {
    1e9,
    1e10,
    "polymer films have 2e9 to 4e9 Pa; polyimide 2.5e9 by its data sheet"};
// Soft ceramic of the type 5H: s11 16.5 pm^2/N, d31 274 pm/V, permittivity 3400 (A. Erturk and D.
// J. Inman, Piezoelectric Energy Harvesting, Wiley 2011, table E.1); 16.6, 320 and 3800 by a data
// sheet. Hard ceramics have less of all (from memory).
constexpr Plausible kPiezoModulusPa = {3e10,
                                       1.5e11,
                                       "piezo ceramics have about 6e10 Pa along the layer"};
constexpr Plausible kChargeConstantMPerV = {
    5e-11,
    1e-9,
    "piezo ceramics have 1e-10 to 3.5e-10 m/V; type 5H 2.74e-10 to 3.2e-10"};
constexpr Plausible kPermittivityRatio = {300.0,
                                          1e4,
                                          "piezo ceramics have 1000 to 4000; type 5H 3400 to 3800"};
// Carbon fibre in epoxy across and along the fibre 8.8 to 181 GPa (published tables), steel 210 GPa
// (from memory).
constexpr Plausible kShimModulusPa = {
    1e9,
    4e11,
    "shims have 8.8e9 Pa (carbon laminate across its fibres) to 2.1e11 Pa (steel)"};
// Static friction on sandpaper 0.73 to 1.17 by mass and pulley (PMC4808115, table 1), polyimide
// film on itself 0.48 to 0.63 (ASTM D1894, data sheet), PTFE from 0.04 (vendor's page).
constexpr Plausible kFriction = {
    0.03,
    1.2,
    "measured ones go from 0.04 (PTFE) to 1.17 (sandpaper); claws that hook in pass it"};

void AddWarning(const std::string& field,
                double value,
                const Plausible& plausible,
                Violations* warnings) {
  if (value < plausible.lower || value > plausible.upper) {
    AddFault({field,
              NumberText(value),
              absl::StrCat("is out of the ordinary: ", plausible.known),
              "check the unit, or keep it if it was measured"},
             warnings);
  }
}

void AddFilmWarnings(const v1::FlexureBending& bending,
                     const std::string& path,
                     Violations* warnings) {
  if (bending.has_film()) {
    AddWarning(
        path + ".bending.film.modulus_pa", bending.film().modulus_pa(), kFilmModulusPa, warnings);
  }
}

// Backwards, a field near the coercive one takes the poling away: 8 kV/cm by a data sheet of type
// 5H.
void AddFieldWarning(const v1::Bimorph& bimorph, const std::string& path, Violations* warnings) {
  constexpr double kCoerciveVPerM = 8e5;
  const v1::BimorphLayers& layers = bimorph.layers();
  const double share = layers.wiring() == v1::BIMORPH_WIRING_SERIES ? 0.5 : 1.0;
  const double field_v_per_m = -share * bimorph.min_v() / layers.piezo_thickness_m();
  if (field_v_per_m > kCoerciveVPerM) {
    AddFault({path + ".min_v",
              NumberText(bimorph.min_v()),
              absl::StrCat("puts ",
                           NumberText(field_v_per_m),
                           " V/m on a layer against its poling; from about 8e5 V/m on soft ceramic "
                           "loses it"),
              "raise min_v, or keep it if the layers are biased elsewhere"},
             warnings);
  }
}

void AddLayerWarnings(const v1::Bimorph& bimorph, const std::string& path, Violations* warnings) {
  if (!bimorph.has_layers()) {
    return;
  }
  const v1::BimorphLayers& layers = bimorph.layers();
  const std::string at = path + ".layers.";
  if (layers.has_piezo_compliance_per_pa()) {
    const Plausible compliance = {
        1.0 / kPiezoModulusPa.upper, 1.0 / kPiezoModulusPa.lower, "type 5H has 1.65e-11 1/Pa"};
    AddWarning(
        at + "piezo_compliance_per_pa", layers.piezo_compliance_per_pa(), compliance, warnings);
  } else {
    AddWarning(at + "piezo_modulus_pa", layers.piezo_modulus_pa(), kPiezoModulusPa, warnings);
  }
  AddWarning(at + "charge_constant_m_per_v",
             layers.charge_constant_m_per_v(),
             kChargeConstantMPerV,
             warnings);
  if (layers.permittivity_ratio() > 0.0) {
    AddWarning(
        at + "permittivity_ratio", layers.permittivity_ratio(), kPermittivityRatio, warnings);
  }
  if (layers.shim_thickness_m() > 0.0) {
    AddWarning(at + "shim_modulus_pa", layers.shim_modulus_pa(), kShimModulusPa, warnings);
  }
  AddFieldWarning(bimorph, path, warnings);
}

}  // namespace

Violations RobotWarnings(const v1::Robot& robot) {
  Violations warnings;
  for (int i = 0; i < robot.legs_size(); ++i) {
    const v1::Leg& leg = robot.legs(i);
    const std::string path =
        absl::StrCat("legs[", i, leg.has_linkage() ? "].linkage." : "].lumped.");
    const v1::LinkageLeg& linkage = leg.linkage();
    for (int k = 0; k < linkage.flexures_size(); ++k) {
      AddFilmWarnings(
          linkage.flexures(k).bending(), absl::StrCat(path, "flexures[", k, "]"), &warnings);
    }
    for (int k = 0; k < linkage.closing_flexures_size(); ++k) {
      AddFilmWarnings(linkage.closing_flexures(k).bending(),
                      absl::StrCat(path, "closing_flexures[", k, "]"),
                      &warnings);
    }
    for (const int coordinate : {0, 1}) {
      if (const v1::Bimorph* bimorph = BimorphOf(leg, coordinate); bimorph != nullptr) {
        AddLayerWarnings(*bimorph,
                         absl::StrCat(path,
                                      coordinate == 0 ? "lift" : "swing",
                                      leg.has_linkage() ? ".drive.bimorph" : ".bimorph"),
                         &warnings);
      }
    }
  }
  return warnings;
}

Violations SurfaceWarnings(const v1::Surface& surface) {
  Violations warnings;
  // 0 says that there is to be no friction, which is no measurement.
  if (surface.friction_coefficient() > 0.0) {
    AddWarning("friction_coefficient", surface.friction_coefficient(), kFriction, &warnings);
  }
  return warnings;
}

}  // namespace gaitshelf::solver
