// A mechanical stop at the end of a travel.
#ifndef GAITSHELF_SOLVER_LEG_STOP_H_
#define GAITSHELF_SOLVER_LEG_STOP_H_

#include <array>

#include "solver/leg/leg_model.h"

namespace gaitshelf::solver {

// Potential of one stop at a depth beyond the travel, with its first and second derivative.
//
//   0                                   depth <= 0
//   k depth^3 / (6 w)                   0 < depth < w
//   k ((depth - w/2)^2 / 2 + w^2 / 24)  depth >= w
// The force grows smoothly over the width w, so that Newton's method meets no jump of the
// stiffness, and is that of a spring k beyond.
std::array<double, 3> StopPotential(double depth, double stiffness, double width);

// Travel of one coordinate with its stops.
struct StoppedTravel {
  // Width over which a stop comes in, as a share of the travel: narrow enough to leave the travel
  // as described, wide enough for Newton's method (own choice).
  static constexpr double kWidthRatio = 0.02;

  double lower = 0.0;
  double upper = 0.0;
  double stiffness = 0.0;

  double width() const { return kWidthRatio * (upper - lower); }
};

// Adds the potential of both stops of coordinate j, at y, to a leg's functions.
void AddStops(const StoppedTravel& travel, double y, size_t j, LegEvaluation* evaluation);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_LEG_STOP_H_
