// First guesses: a parametric gait turned into targets and unknowns of a plan problem.
//
// A seed is crude on purpose: level body at constant speed, feet on straight paths. It fixes which
// basin the solve falls into (the order of footfalls), no more.
#ifndef GAITSHELF_SOLVER_PLAN_SEED_H_
#define GAITSHELF_SOLVER_PLAN_SEED_H_

#include <vector>

#include "gaitshelf/v1/task.pb.h"

#include "solver/leg/robot_model.h"
#include "solver/plan/gait_cycle.h"
#include "solver/plan/problem.h"
#include "solver/robot/transition.h"

namespace gaitshelf::solver {

// Parameters of a seed; lengths scaled.
struct SeedParameters {
  v1::SeedPattern pattern = v1::SEED_PATTERN_TROT;
  double duty = 0.5;         // share of the cycle that a foot stands
  double body_height = 0.0;  // of the body frame above the surface
  double clearance = 0.0;    // height of a swinging foot in mid-swing
  double asked_share = 0.7;  // share of the clearance that the plan is asked to keep
  double asked_load = 0.0;  // share of an even load that the plan is asked to keep on standing feet
  double roll = 0.0;        // of the body, rad
  double pitch = 0.0;
};

// Limb phase of each leg, 0 to 1: the time of its touchdown within the cycle. Front to rear and
// left to right come from where the feet stand.
std::vector<double> LimbPhases(const RobotModel& model, v1::SeedPattern pattern);

// The usual parameters of a pattern for this robot.
SeedParameters DefaultSeed(const RobotModel& model, v1::SeedPattern pattern);

// Sets targets, and the unknowns of a periodic gait whose cycle does the problem's motion with its
// stride target. The problem's model, knots, period and motion are given.
void SeedAdvance(const SeedParameters& seed, PlanProblem* problem, PlanUnknowns* unknowns);

// Timing of a hop; scaled times.
struct HopTiming {
  double crouch = 0.0;  // from standing to the end of the push
  double flight = 0.0;
  double landing = 0.0;  // from touchdown to standing
  double total() const { return crouch + flight + landing; }
};

// Timing that a hop of this rise needs.
HopTiming TimeHop(const RobotModel& model, double rise);

// What a hop is to do; scaled.
struct HopAim {
  double rise = 0.0;
  double advance = 0.0;  // along x, of the whole jump
};

// Sets targets, apex and unknowns of a hop. The problem's model and knots are given.
void SeedHop(const HopTiming& timing,
             const HopAim& aim,
             PlanProblem* problem,
             PlanUnknowns* unknowns);

// The gaits that a transition joins, and where it does.
struct TransitionSeed {
  const GaitCycle* from = nullptr;
  const GaitCycle* to = nullptr;
  TransitionGrid grid;
};

// Sets targets and unknowns of a transition. The problem's model, knots and period are given; its
// first two knots become those of the first gait at its knot, the last two those of the second up
// to a motion in the plane.
void SeedTransition(const TransitionSeed& seed, PlanProblem* problem, PlanUnknowns* unknowns);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_PLAN_SEED_H_
