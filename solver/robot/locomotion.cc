#include "solver/robot/locomotion.h"

#include <cmath>

#include "solver/robot/check.h"

namespace gaitshelf::solver {
namespace {

void CheckFinite(const char* field, double value, Violations* violations) {
  if (!std::isfinite(value)) {
    AddFault({field, NumberText(value), "must be a finite number", "give a number in SI units"},
             violations);
  }
}

void CheckPositive(const char* field, double value, Violations* violations) {
  if (!std::isfinite(value) || value <= 0.0) {
    AddFault({field,
              NumberText(value),
              "must be a finite number more than 0",
              "give a number in SI units"},
             violations);
  }
}

}  // namespace

absl::StatusOr<double> CostOfTransport(const TransportInput& input) {
  Violations violations;
  CheckFinite("power_w", input.power_w, &violations);
  CheckPositive("mass_kg", input.mass_kg, &violations);
  CheckPositive("gravity_m_per_s2", input.gravity_m_per_s2, &violations);
  CheckPositive("speed_m_per_s", std::abs(input.speed_m_per_s), &violations);
  if (!violations.empty()) {
    return ToStatus(violations);
  }
  return input.power_w / (input.mass_kg * input.gravity_m_per_s2 * std::abs(input.speed_m_per_s));
}

}  // namespace gaitshelf::solver
