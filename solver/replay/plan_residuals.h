// Residuals of a gait at its own knots, computed from the gait's numbers alone.
#ifndef GAITSHELF_SOLVER_REPLAY_PLAN_RESIDUALS_H_
#define GAITSHELF_SOLVER_REPLAY_PLAN_RESIDUALS_H_

#include "gaitshelf/v1/audit.pb.h"

#include "solver/leg/robot_model.h"
#include "solver/replay/gait_track.h"

namespace gaitshelf::solver {

// Returns the largest residual of each law over all knots. With P = dL/dv and G the force of an
// interval, and the foot force f of knot k acting at the end of the interval that it begins:
//   dynamics         right(k-1, k) + left(k, k+1) + drive(q_k, u_k) + sum J(q_k+1)' f_k = 0
//   penetration      -gap(q_k+1)                complementarity  gap(q_k+1) fn_k
//   cone             |ft_k| - mu fn_k           dissipation      mu fn_k |v| + ft_k . v
// with v the foot's tangential displacement over the interval, per time. A hop starts and ends at
// rest: its equations hold from knot 1 to the last but one. Periodicity is how far the motion from
// the last two knots would miss knot 0 moved on by the advance.
v1::PlanResiduals ComputePlanResiduals(const RobotModel& model, const GaitTrack& track);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_PLAN_RESIDUALS_H_
