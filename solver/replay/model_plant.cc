#include "solver/replay/model_plant.h"

namespace gaitshelf::solver {

using Eigen::Index;
using Eigen::VectorXd;

absl::Status ModelPlant::StartOnPlan(const GaitTrack& track, double step) {
  const VectorXd start = track.Position(0);
  state_ = StartAfterInterval(model_, track.Position(-1), start, track.knot_period());
  // Forces of the plan at knot 0 act with the jacobian at knot 1.
  model_.DriveForce(start, track.Drives(0), &state_.knot_force);
  state_.foot_forces = track.FootForces(0);
  const VectorXd next = track.Position(1);
  FootKinematics foot;
  for (Index i = 0; i < model_.foot_count(); ++i) {
    model_.EvaluateFoot(next, i, true, &foot);
    state_.knot_force += foot.jacobian.transpose() * state_.foot_forces.segment<3>(3 * i);
  }
  CarryMomentum(track.knot_period(), step, state_.knot_force, &state_.knot.momentum);
  state_.step = step;
  return absl::OkStatus();
}

}  // namespace gaitshelf::solver
