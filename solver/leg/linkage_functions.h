// The functions of a leg model, worked out for one posture of a linkage.
#ifndef GAITSHELF_SOLVER_LEG_LINKAGE_FUNCTIONS_H_
#define GAITSHELF_SOLVER_LEG_LINKAGE_FUNCTIONS_H_

#include <Eigen/Core>

#include "solver/leg/leg_model.h"
#include "solver/leg/scale.h"
#include "solver/mechanism/closure.h"
#include "solver/mechanism/linkage.h"

namespace gaitshelf::solver {

// Returns all functions, SI units, for coordinates whose angles grow by rad_per_m. Flexures and
// pins count in potential and inertia, mechanical stops do not.
LegValues LinkageFunctions(const Linkage& linkage,
                           const ClosedPosture& posture,
                           const Eigen::Vector2d& rad_per_m);

// Returns the size of each function's unit, so that value / unit is in the units of the scale.
LegValues FunctionUnits(const Scale& scale);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_LEG_LINKAGE_FUNCTIONS_H_
