// The linkage of a leg, read from its description, and its two coordinates as they are measured at
// the foot.
#ifndef GAITSHELF_SOLVER_ROBOT_LEG_LINKAGE_H_
#define GAITSHELF_SOLVER_ROBOT_LEG_LINKAGE_H_

#include <string>
#include <vector>

#include <Eigen/Core>

#include "gaitshelf/v1/robot.pb.h"

#include "absl/status/statusor.h"
#include "solver/mechanism/closure.h"
#include "solver/mechanism/linkage.h"

namespace gaitshelf::solver {

// A flexure as reports name it.
struct FlexureLabel {
  std::string name;
  // Strain at the surface of the film per rad of bending, thickness / (2 length): the film bends
  // evenly along its length. 0 where no film is described.
  double strain_per_rad = 0.0;
};

// SI units throughout. Index 0 is lift, 1 swing.
struct LegLinkage {
  // Pins in the order lift, swing. Links stand parents first, else as the description has them.
  Linkage linkage;
  std::vector<FlexureLabel> link_flexures;     // of each link, in the linkage's order
  std::vector<FlexureLabel> closing_flexures;  // of each loop
  // Range of the two angles, rad.
  Eigen::Vector2d lower_rad;
  Eigen::Vector2d upper_rad;
  Eigen::Vector2d stop_stiffness;
};

// Angle per coordinate at the foot, rad/m, in the rest posture.
struct FootRates {
  Eigen::Vector2d rad_per_m;
  // Share of the foot's motion that goes up for lift and along the body for swing.
  Eigen::Vector2d share;
  // Length of the foot's way per angle, m/rad.
  Eigen::Vector2d way_m_per_rad;
  // Sine of the angle between the ways of the two coordinates: 0 when they move the foot along one
  // line, or not at all.
  double sine = 0.0;
  // Derivative of the pins' travel by the coordinates at the foot; rows are pins.
  Eigen::Matrix2d travel;
};

// Reads the linkage of a leg whose names, references and arrays have passed their checks.
//
// Errors:
//   kInvalidArgument  they have not
absl::StatusOr<LegLinkage> ReadLegLinkage(const v1::LinkageLeg& leg);

// The rest posture is that of the linkage's closure.
FootRates MeasureFootRates(const LegLinkage& leg, const ClosedPosture& rest);

// Returns the stiffness of a flexure, N m/rad: K = E w t^3 / (12 l) for a film, with its hinge at
// mid-length (small-length flexural pivot).
double FlexureStiffness(const v1::FlexureBending& bending);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_LEG_LINKAGE_H_
