// The plane's part of a free robot's coordinates: x, y and yaw.
#ifndef GAITSHELF_SOLVER_LEG_PLANE_H_
#define GAITSHELF_SOLVER_LEG_PLANE_H_

#include <Eigen/Core>

#include "solver/base/planar_motion.h"
#include "solver/leg/robot_model.h"

namespace gaitshelf::solver {

// Distance of the feet from the body frame, root of the mean square, as the robot stands: what a
// turn moves them by for each rad.
double TurnLever(const RobotModel& model);

// Place and heading of the body frame; q begins with x, y, z, roll, pitch, yaw.
PlanarPose PlaneOf(const Eigen::VectorXd& q);

// Sets them, scaled as q is, and leaves all else of q as it was.
void SetPlane(const PlanarPose& pose, Eigen::VectorXd* q);

// Moves a robot with a free body as the motion moves the origin, in the axes of the surface.
void MoveOn(const PlanarMotion& motion, Eigen::VectorXd* q);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_LEG_PLANE_H_
