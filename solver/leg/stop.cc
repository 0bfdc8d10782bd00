#include "solver/leg/stop.h"

namespace gaitshelf::solver {

std::array<double, 3> StopPotential(double depth, double stiffness, double width) {
  if (depth <= 0.0) {
    return {0.0, 0.0, 0.0};
  }
  if (depth < width) {
    const double slope = stiffness / width;
    return {slope * depth * depth * depth / 6.0, 0.5 * slope * depth * depth, slope * depth};
  }
  const double reach = depth - 0.5 * width;
  return {stiffness * (0.5 * reach * reach + width * width / 24.0), stiffness * reach, stiffness};
}

void AddStops(const StoppedTravel& travel, double y, size_t j, LegEvaluation* evaluation) {
  const std::array<double, 3> above =
      StopPotential(y - travel.upper, travel.stiffness, travel.width());
  const std::array<double, 3> below =
      StopPotential(travel.lower - y, travel.stiffness, travel.width());
  evaluation->value[LegFunction::kPotential] += above[0] + below[0];
  evaluation->first[j][LegFunction::kPotential] += above[1] - below[1];
  evaluation->second[j][LegFunction::kPotential] += above[2] + below[2];
}

}  // namespace gaitshelf::solver
