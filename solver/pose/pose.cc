#include "solver/pose/pose.h"

#include <cmath>
#include <numbers>

namespace gaitshelf::solver {

Pose MotionBetween(const Pose& from, const Pose& to) {
  Pose motion = to - from;
  const double c = std::cos(from[5]), s = std::sin(from[5]);
  const double dx = motion[0], dy = motion[1];
  motion[0] = c * dx + s * dy;
  motion[1] = c * dy - s * dx;
  return motion;
}

Pose Moved(const Pose& from, const Pose& motion) {
  Pose to = from + motion;
  const double c = std::cos(from[5]), s = std::sin(from[5]);
  to[0] = from[0] + c * motion[0] - s * motion[1];
  to[1] = from[1] + s * motion[0] + c * motion[1];
  return to;
}

double NearestTurn(double angle_rad, double to_rad) {
  return to_rad + std::remainder(angle_rad - to_rad, 2.0 * std::numbers::pi);
}

}  // namespace gaitshelf::solver
