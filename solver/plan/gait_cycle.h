// A periodic gait in the planner's units: its coordinates and controls at any phase.
#ifndef GAITSHELF_SOLVER_PLAN_GAIT_CYCLE_H_
#define GAITSHELF_SOLVER_PLAN_GAIT_CYCLE_H_

#include <Eigen/Core>

#include "gaitshelf/v1/gait.pb.h"

#include "absl/status/statusor.h"
#include "solver/base/planar_motion.h"
#include "solver/leg/robot_model.h"

namespace gaitshelf::solver {

class GaitCycle {
 public:
  // Errors:
  //   kInvalidArgument   the gait's arrays do not fit the robot
  static absl::StatusOr<GaitCycle> Create(const v1::Gait& gait, const RobotModel& model);

  int knot_count() const { return static_cast<int>(coordinates_.cols()); }
  double knot_period() const { return knot_period_; }
  double period() const { return knot_period_ * knot_count(); }
  // What one cycle does.
  const PlanarMotion& motion() const { return motion_; }

  // Coordinates in a frame that goes evenly with the cycle, so that they come round with it: at a
  // knot its own, else cubic between the knots.
  Eigen::VectorXd Relative(double phase) const;
  // Drives, and each foot's force (x, y, z), as the knot at or before the phase has them. The
  // forces are seen from the frame that goes with the cycle.
  Eigen::VectorXd Drives(double phase) const;
  Eigen::VectorXd FootForces(double phase) const;

 private:
  GaitCycle() = default;
  Eigen::Index KnotAt(double phase, double* share) const;

  double knot_period_ = 0.0;
  PlanarMotion motion_;
  Eigen::MatrixXd coordinates_;  // relative, n x N
  Eigen::MatrixXd drives_;
  Eigen::MatrixXd forces_;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_PLAN_GAIT_CYCLE_H_
