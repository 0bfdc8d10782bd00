// Turns the solved unknowns into a gait.
#ifndef GAITSHELF_SOLVER_PLAN_RESULT_H_
#define GAITSHELF_SOLVER_PLAN_RESULT_H_

#include <string>

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/robot.pb.h"

#include "solver/plan/problem.h"

namespace gaitshelf::solver {

// Fills the trajectory, in SI units, and what the report says of footfalls, slip and voltage.
void FillTrajectory(const PlanProblem& problem,
                    const PlanUnknowns& unknowns,
                    const v1::Robot& robot,
                    v1::Gait* gait);

// Says in the user's terms which limits a stalled plan presses against.
std::string DescribeLimits(const PlanProblem& problem,
                           const PlanUnknowns& unknowns,
                           const v1::Robot& robot);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_PLAN_RESULT_H_
