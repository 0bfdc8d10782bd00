#include "solver/replay/whole_plant.h"

#include "absl/strings/str_cat.h"

namespace gaitshelf::solver {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

absl::Status WholePlant::StartOnPlan(const GaitTrack& track, double step) {
  // Knots -1, 0 and 1 with closed loops.
  std::array<VectorXd, 3> at;
  for (Index i = 0; i < 3; ++i) {
    absl::StatusOr<VectorXd> closed = robot_.Close(track.Position(i - 1));
    if (!closed.ok()) {
      return absl::Status(closed.status().code(),
                          absl::StrCat("the mechanism cannot take the planned posture: ",
                                       closed.status().message()));
    }
    at[static_cast<size_t>(i)] = *std::move(closed);
  }
  state_ = StartWholeAfterInterval(robot_, at[0], at[1], track.knot_period());
  WholePlace place;
  robot_.EvaluatePlace(at[1], &place);
  robot_.DriveForce(place, track.Drives(0), &state_.knot_force);
  state_.foot_forces = track.FootForces(0);
  // Forces of the plan at knot 0 act with the jacobian at knot 1.
  robot_.EvaluatePlace(at[2], &place);
  Eigen::Vector3d position;
  MatrixXd jacobian(3, robot_.coordinate_count());
  for (Index i = 0; i < robot_.foot_count(); ++i) {
    robot_.EvaluateFoot(place, i, &position, jacobian);
    state_.knot_force += jacobian.transpose() * state_.foot_forces.segment<3>(3 * i);
  }
  CarryMomentum(track.knot_period(), step, state_.knot_force, &state_.momentum);
  state_.step = step;
  return absl::OkStatus();
}

}  // namespace gaitshelf::solver
