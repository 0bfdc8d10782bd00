// Poses of the body, and how one follows from another on a plane surface.
#ifndef GAITSHELF_SOLVER_POSE_POSE_H_
#define GAITSHELF_SOLVER_POSE_POSE_H_

#include <Eigen/Core>

namespace gaitshelf::solver {

// Position of the body frame, m, then roll, pitch and yaw, rad, as in RobotModel. Yaw goes on past
// pi.
using Pose = Eigen::Matrix<double, 6, 1>;

// The way from one pose to another as the robot sees it: along and across its heading at the first,
// up, then the differences of roll, pitch and yaw. A plane looks the same from everywhere: the same
// steps of the legs make the same motion wherever the robot stands and whichever way it heads.
Pose MotionBetween(const Pose& from, const Pose& to);
// The pose that a motion leads to.
Pose Moved(const Pose& from, const Pose& motion);
// The angle, with whole turns added, that is nearest to another.
double NearestTurn(double angle_rad, double to_rad);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_POSE_POSE_H_
