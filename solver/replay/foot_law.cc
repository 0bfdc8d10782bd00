#include "solver/replay/foot_law.h"

#include <algorithm>
#include <cmath>

#include <Eigen/LU>

namespace gaitshelf::solver {
namespace {

using Eigen::Matrix2d;
using Eigen::Vector2d;
using Eigen::Vector3d;

// The tangential problem left when the normal force keeps the gap at 0:
//   slip = free + mobility ft,  fn = rest + slope . ft
// Sliding means slip = -kappa ft with kappa > 0, so ft = -(mobility + kappa E)^-1 free, and kappa
// is the root of |ft| - friction fn. The mobility is not quite symmetric where the body spins.
struct Sliding {
  Matrix2d mobility;
  Vector2d free;
  double rest = 0.0;
  Vector2d slope;
  double friction = 0.0;

  Vector2d Force(double kappa) const {
    const double m00 = mobility(0, 0) + kappa, m11 = mobility(1, 1) + kappa;
    const double determinant = m00 * m11 - mobility(0, 1) * mobility(1, 0);
    return Vector2d(mobility(0, 1) * free[1] - m11 * free[0],
                    mobility(1, 0) * free[0] - m00 * free[1]) /
           determinant;
  }
  double Normal(const Vector2d& force) const { return rest + slope.dot(force); }
  // Above 0 where the cone is left.
  double Excess(double kappa) const {
    const Vector2d force = Force(kappa);
    return force.norm() - friction * Normal(force);
  }
};

Sliding MakeSliding(const FootProblem& problem) {
  const Eigen::Matrix3d& w = problem.mobility;
  const double normal = w(2, 2);
  Sliding s;
  s.mobility =
      w.topLeftCorner<2, 2>() - w.topRightCorner<2, 1>() * w.bottomLeftCorner<1, 2>() / normal;
  s.free = problem.free.head<2>() - w.topRightCorner<2, 1>() * (problem.free[2] / normal);
  s.rest = -problem.free[2] / normal;
  s.slope = -w.bottomLeftCorner<1, 2>().transpose() / normal;
  s.friction = problem.friction;
  return s;
}

// Finds kappa by bisection that narrows to a false-position step: the excess is above 0 at kappa =
// 0 and below it where ft has become small.
double FindKappa(const Sliding& s) {
  double low = 0.0;
  double high = s.mobility.trace();
  for (int i = 0; i < 200 && s.Excess(high) > 0.0; ++i) {
    low = high;
    high *= 4.0;
  }
  double low_value = s.Excess(low);
  double high_value = s.Excess(high);
  double kappa = high;
  int side = 0;
  for (int i = 0; i < 100; ++i) {
    // Illinois false position; every fourth step halves, which bounds the number of steps.
    kappa = i % 4 == 3 ? 0.5 * (low + high)
                       : (low * high_value - high * low_value) / (high_value - low_value);
    const double value = s.Excess(kappa);
    if (high - low <= 1e-15 * high || std::abs(value) <= 1e-16 * s.rest) {
      break;
    }
    if (value > 0.0) {
      low = kappa;
      low_value = value;
      high_value = side == 1 ? 0.5 * high_value : high_value;
      side = 1;
    } else {
      high = kappa;
      high_value = value;
      low_value = side == -1 ? 0.5 * low_value : low_value;
      side = -1;
    }
  }
  return kappa;
}

}  // namespace

Vector3d SolveFoot(const FootProblem& problem, FootState* state) {
  if (problem.free[2] >= 0.0) {
    *state = FootState::kOpen;
    return Vector3d::Zero();
  }
  if (problem.friction <= 0.0) {
    *state = FootState::kSlide;
    return Vector3d(0.0, 0.0, -problem.free[2] / problem.mobility(2, 2));
  }
  const Vector3d stick = -problem.mobility.inverse() * problem.free;
  if (stick[2] > 0.0 && stick.head<2>().norm() <= problem.friction * stick[2]) {
    *state = FootState::kStick;
    return stick;
  }
  *state = FootState::kSlide;
  const Sliding sliding = MakeSliding(problem);
  const Vector2d direction = sliding.Force(FindKappa(sliding));
  Vector3d force;
  force[2] = std::max(0.0, sliding.Normal(direction));
  // Put it on the cone to the last digit.
  const double size = direction.norm();
  force.head<2>() = size > 0.0 ? Vector2d(direction * (problem.friction * force[2] / size))
                               : Vector2d(Vector2d::Zero());
  return force;
}

double FootResidual(const FootProblem& problem, const Vector3d& force, const Vector3d& motion) {
  const double normal_mobility = problem.mobility(2, 2);
  double worst = std::abs(std::min(motion[2], normal_mobility * force[2]));
  const double limit = problem.friction * std::max(0.0, force[2]);
  // The force must be what is left when force - slip / mobility is drawn back to the disc.
  const double mobility = 0.5 * (problem.mobility(0, 0) + problem.mobility(1, 1));
  const Vector2d tried = force.head<2>() - motion.head<2>() / mobility;
  const double size = tried.norm();
  const Vector2d drawn = size > limit ? Vector2d(tried * (limit / size)) : tried;
  worst = std::max(worst, mobility * (drawn - force.head<2>()).norm());
  return worst;
}

}  // namespace gaitshelf::solver
