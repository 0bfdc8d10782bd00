// A leg of a clamped robot in small motion about its rest, drives at their bias:
//   M y'' + C y' + K y = B (V - bias) + F,   y = (lift, swing) at the foot, SI units.
#ifndef GAITSHELF_SOLVER_CALIBRATE_LINEAR_LEG_H_
#define GAITSHELF_SOLVER_CALIBRATE_LINEAR_LEG_H_

#include <array>

#include <Eigen/Core>

#include "gaitshelf/v1/robot.pb.h"

#include "absl/status/statusor.h"
#include "solver/calibrate/leg_numbers.h"

namespace gaitshelf::solver {

struct LinearLeg {
  Eigen::Matrix2d mass;
  // What gravity adds where the leg's masses move on curves; it changes with the mass.
  Eigen::Matrix2d weight_stiffness;
  // What the numbers of lift and of swing add.
  std::array<Eigen::Matrix2d, 2> stiffness;
  std::array<Eigen::Matrix2d, 2> damping;
  // Force on both coordinates per volt of each drive, a column a drive; 0 for a passive coordinate.
  Eigen::Matrix2d gain;
  std::array<bool, 2> has_drive = {false, false};
  std::array<double, 2> bias_v = {0.0, 0.0};
  Eigen::Matrix<double, 3, 2> foot_rate;  // foot velocity per rate
};

// Linearises a leg that has passed its check. All matrices are linear in the factors of
// LegNumbers.
//
// Errors are those of CompileLeg.
absl::StatusOr<LinearLeg> LineariseLeg(const v1::Leg& leg, const LegNumbers& numbers);

// Curvature of the potential of flexures and bimorphs at rest, N/m.
absl::StatusOr<Eigen::Matrix2d> RestStiffness(const v1::Leg& leg);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_CALIBRATE_LINEAR_LEG_H_
