// A gait's arrays in the model's scaled units, and its leg targets and voltages between the knots.
#ifndef GAITSHELF_SOLVER_REPLAY_GAIT_TRACK_H_
#define GAITSHELF_SOLVER_REPLAY_GAIT_TRACK_H_

#include <Eigen/Core>

#include "gaitshelf/v1/gait.pb.h"

#include "absl/status/statusor.h"
#include "solver/base/planar_motion.h"
#include "solver/leg/robot_model.h"

namespace gaitshelf::solver {

class GaitTrack {
 public:
  // Errors:
  //   kInvalidArgument   an array has not the size that the gait's counts and the robot ask for, or
  //                      holds a number that is not finite; the message names every such field
  static absl::StatusOr<GaitTrack> Create(const v1::Gait& gait, const RobotModel& model);

  Eigen::Index knot_count() const { return positions_.cols(); }
  double knot_period() const { return knot_period_; }
  bool is_periodic() const { return is_periodic_; }
  double advance() const { return motion_.advance; }
  // What one cycle does.
  const PlanarMotion& motion() const { return motion_; }
  // Time of one cycle, or from the first knot of a hop to its last.
  double duration() const;

  // Coordinates at a knot. For a periodic gait any index is allowed: knots beyond the cycle are
  // moved on by the cycle's motion. For a hop knots before the first and after the last repeat
  // these.
  Eigen::VectorXd Position(Eigen::Index knot) const;
  // Drive u and foot forces (three a foot) of a knot, with the same rule.
  Eigen::VectorXd Drives(Eigen::Index knot) const;
  Eigen::VectorXd FootForces(Eigen::Index knot) const;

  // Leg coordinates and their rates at a time since knot 0: cubic Hermite with the tangents of
  // central differences; at the ends of a transition with those of the outermost intervals.
  void LegTarget(double time, Eigen::VectorXd* position, Eigen::VectorXd* rate) const;
  // Feed-forward voltage at a time since knot 0, V. Linear between the knots: a plan's drive forces
  // act as impulses at the knots, and a hat over two intervals has the same impulse.
  Eigen::VectorXd Voltage(double time) const;
  // True when the plan has the foot loaded in the interval that holds the time.
  bool IsLoaded(double time, Eigen::Index foot, double threshold) const;

 private:
  GaitTrack() = default;
  // Index inside the arrays and how many cycles it is off.
  Eigen::Index Wrap(Eigen::Index knot, Eigen::Index* cycles) const;
  Eigen::Index Locate(double time, double* fraction) const;

  double knot_period_ = 0.0;
  bool is_periodic_ = false;
  bool goes_on_ = false;  // moves at both ends, although it is open
  PlanarMotion motion_;
  Eigen::Index base_count_ = 0;
  Eigen::MatrixXd positions_;  // n x N
  Eigen::MatrixXd voltages_;   // drives x N, V
  Eigen::MatrixXd drives_;     // drives x N, u
  Eigen::MatrixXd forces_;     // 3F x N
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_GAIT_TRACK_H_
