// Inverse kinematics and inverse dynamics of a seed.
#ifndef GAITSHELF_SOLVER_PLAN_INVERSE_H_
#define GAITSHELF_SOLVER_PLAN_INVERSE_H_

#include <Eigen/Core>

#include "solver/plan/problem.h"

namespace gaitshelf::solver {

// Moves lift and swing of a leg so that its foot comes as near to (x, z) as the travel allows; q is
// changed in place.
void ReachFoot(const RobotModel& model, Eigen::Index leg, double x, double z, Eigen::VectorXd* q);

// Sets the drives' u of every free knot so that the legs' equations of motion hold for the
// coordinates and foot forces in the unknowns, limited to 0.9 of the range.
void SetDrivesByInverseDynamics(const PlanProblem& problem, PlanUnknowns* unknowns);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_PLAN_INVERSE_H_
