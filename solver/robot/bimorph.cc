#include "solver/robot/bimorph.h"

namespace gaitshelf::solver {
namespace {

constexpr double kVacuumPermittivity = 8.8541878128e-12;  // F/m (CODATA 2018, from memory)

double PiezoModulus(const v1::BimorphLayers& layers) {
  return layers.has_piezo_compliance_per_pa() ? 1.0 / layers.piezo_compliance_per_pa()
                                              : layers.piezo_modulus_pa();
}

// E I of the whole section about its middle, N m^2.
double BendingStiffness(const v1::BimorphLayers& layers) {
  const double t = layers.piezo_thickness_m();
  const double s = layers.shim_thickness_m();
  const double piezo = PiezoModulus(layers) * t * (8.0 * t * t + 12.0 * t * s + 6.0 * s * s);
  return layers.width_m() / 12.0 * (piezo + layers.shim_modulus_pa() * s * s * s);
}

void WorkOut(v1::LegCoordinate* coordinate) {
  if (coordinate->has_bimorph()) {
    *coordinate->mutable_bimorph() = WithoutLayers(coordinate->bimorph());
  }
}

void WorkOut(v1::LinkageCoordinate* coordinate) {
  if (coordinate->has_drive()) {
    *coordinate->mutable_drive()->mutable_bimorph() = WithoutLayers(coordinate->drive().bimorph());
  }
}

}  // namespace

v1::Bimorph WithoutLayers(const v1::Bimorph& bimorph) {
  if (!bimorph.has_layers()) {
    return bimorph;
  }
  const v1::BimorphLayers& layers = bimorph.layers();
  const bool is_series = layers.wiring() == v1::BIMORPH_WIRING_SERIES;
  const double length_m = layers.length_m();
  const double thickness_m = layers.piezo_thickness_m();
  const double voltage_share = is_series ? 0.5 : 1.0;
  const double moment_n_m_per_v = voltage_share * PiezoModulus(layers) *
                                  layers.charge_constant_m_per_v() * layers.width_m() *
                                  (thickness_m + layers.shim_thickness_m());
  const double layer_f =
      layers.permittivity_ratio() * kVacuumPermittivity * layers.width_m() * length_m / thickness_m;
  v1::Bimorph numbers = bimorph;
  numbers.clear_layers();
  numbers.set_gain_n_per_v(1.5 * moment_n_m_per_v / length_m);
  numbers.set_stiffness_n_per_m(3.0 * BendingStiffness(layers) / (length_m * length_m * length_m));
  numbers.set_capacitance_f(is_series ? 0.5 * layer_f : 2.0 * layer_f);
  return numbers;
}

v1::Robot WithoutLayers(const v1::Robot& robot) {
  v1::Robot numbers = robot;
  for (v1::Leg& leg : *numbers.mutable_legs()) {
    if (leg.has_lumped()) {
      WorkOut(leg.mutable_lumped()->mutable_lift());
      WorkOut(leg.mutable_lumped()->mutable_swing());
    } else if (leg.has_linkage()) {
      WorkOut(leg.mutable_linkage()->mutable_lift());
      WorkOut(leg.mutable_linkage()->mutable_swing());
    }
  }
  return numbers;
}

}  // namespace gaitshelf::solver
