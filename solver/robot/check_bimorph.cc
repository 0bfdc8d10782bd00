#include "solver/robot/check_bimorph.h"

#include <cmath>
#include <utility>

#include "absl/strings/str_cat.h"
#include "solver/robot/rule_walk.h"

namespace gaitshelf::solver {
namespace {

void CheckShim(const v1::BimorphLayers& layers, const std::string& path, Violations* violations) {
  const bool has_shim = layers.shim_thickness_m() > 0.0;
  if (has_shim && layers.shim_modulus_pa() == 0.0) {
    AddFault({FieldPath(path, "shim_modulus_pa"),
              kMissing,
              "is required with a shim and must be more than 0",
              "add shim_modulus_pa; give pascals: 120 GPa is 1.2e11"},
             violations);
  }
  if (layers.shim_thickness_m() == 0.0 && layers.shim_modulus_pa() > 0.0) {
    AddFault({FieldPath(path, "shim_modulus_pa"),
              NumberText(layers.shim_modulus_pa()),
              "must be left out without a shim: shim_thickness_m is missing",
              "add shim_thickness_m, or take shim_modulus_pa out"},
             violations);
  }
}

void CheckLayers(const v1::Bimorph& bimorph, const std::string& path, Violations* violations) {
  for (const auto& [field, value] : {std::pair("gain_n_per_v", bimorph.gain_n_per_v()),
                                     std::pair("stiffness_n_per_m", bimorph.stiffness_n_per_m()),
                                     std::pair("capacitance_f", bimorph.capacitance_f())}) {
    if (value != 0.0 && std::isfinite(value)) {
      AddFault({FieldPath(path, field),
                NumberText(value),
                "must be left out with layers, from which it follows",
                absl::StrCat("take ", field, " out, or layers, whichever was not measured")},
               violations);
    }
  }
  const std::string layers = FieldPath(path, "layers");
  CheckShim(bimorph.layers(), layers, violations);
  if (bimorph.layers().wiring() == v1::BIMORPH_WIRING_UNSPECIFIED) {
    AddFault({FieldPath(layers, "wiring"),
              kMissing,
              "is required: a series bimorph has half the voltage on each layer",
              "add wiring: BIMORPH_WIRING_PARALLEL or BIMORPH_WIRING_SERIES"},
             violations);
  }
}

}  // namespace

void AddBimorphFaults(const v1::Bimorph& bimorph, const std::string& path, Violations* violations) {
  if (bimorph.has_layers()) {
    CheckLayers(bimorph, path, violations);
  } else if (bimorph.gain_n_per_v() == 0.0) {
    AddFault({FieldPath(path, "gain_n_per_v"),
              kMissing,
              "is required without layers and must be more than 0 and at most 1000 N/V",
              "add gain_n_per_v; give newtons per volt: 1.8 mN/V is 0.0018; or add layers { ... }"},
             violations);
  }
}

}  // namespace gaitshelf::solver
