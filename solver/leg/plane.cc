#include "solver/leg/plane.h"

#include <cmath>

namespace gaitshelf::solver {
namespace {

constexpr Eigen::Index kYaw = 5;

}  // namespace

double TurnLever(const RobotModel& model) {
  const Eigen::VectorXd posture = model.ReferencePosture();
  FootKinematics foot;
  double square = 0.0;
  for (Eigen::Index i = 0; i < model.foot_count(); ++i) {
    model.EvaluateFoot(posture, i, false, &foot);
    square += foot.position.head<2>().squaredNorm();
  }
  return model.foot_count() > 0 ? std::sqrt(square / static_cast<double>(model.foot_count())) : 0.0;
}

PlanarPose PlaneOf(const Eigen::VectorXd& q) { return {q(0), q(1), q(kYaw)}; }

void SetPlane(const PlanarPose& pose, Eigen::VectorXd* q) {
  (*q)(0) = pose.x;
  (*q)(1) = pose.y;
  (*q)(kYaw) = pose.heading;
}

void MoveOn(const PlanarMotion& motion, Eigen::VectorXd* q) {
  if (motion.is_straight()) {
    (*q)(0) += motion.advance;
    return;
  }
  SetPlane(motion.End().Then(PlaneOf(*q)), q);
}

}  // namespace gaitshelf::solver
