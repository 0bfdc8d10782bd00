// One stage of a plan: a problem on a given number of knots with its schedule, made from the order.
#ifndef GAITSHELF_SOLVER_PLAN_STAGE_H_
#define GAITSHELF_SOLVER_PLAN_STAGE_H_

#include <vector>

#include "gaitshelf/v1/task.pb.h"

#include "solver/leg/robot_model.h"
#include "solver/plan/problem.h"
#include "solver/plan/rounds.h"
#include "solver/plan/seed.h"

namespace gaitshelf::solver {

// What changes from one attempt to the next; the first attempt has the defaults.
struct Attempt {
  int rung = 0;
  int iterations_per_round = 20;
  double smoothing_factor = 0.3;
  double last_penalty = 1e5;
  double demand_ratio = 1.0;  // on clearance and slip weight: below 1 the gait is asked for less
  double seed_spread = 0.0;   // relative size of random changes to the seed's parameters
  double reach_ratio = 1.0;   // of the legs' reach, what a maximal advance asks for
  double steady_duty = 0.0;   // of a steady gait; 0 for the usual (plan_gait.h)
  // Coefficient of the surface of most friction, for a plan of several surfaces, whose feet must
  // then not slide; 0 for a plan of one.
  double greatest_friction = 0.0;
};

// The attempts of a solve in their order. Each costs one normal solve.
std::vector<Attempt> AttemptLadder();

// Knots of each stage, coarse first. Fine knots are what a plan needs to replay within a few
// percent; solved cold they chatter, so a coarse solve goes before them.
std::vector<int> StageKnots(const v1::GaitOrder& order);

// The footfall pattern of a seed: the one asked for, else a trot, or a walk where a slow trot would
// leave the body to tip on two feet. Unspecified for a hop.
v1::SeedPattern ChoosePattern(const RobotModel& model, const v1::GaitOrder& order);

struct Stage {
  PlanProblem problem;
  PlanUnknowns unknowns;  // the seed
  RoundSchedule schedule;
};

// Makes the stage with this many knots. The model must outlive it. rng in the order's options fixes
// random changes. A transition is given what it joins, and has the knots of its grid.
Stage MakeStage(const RobotModel& model,
                const v1::GaitOrder& order,
                const Attempt& attempt,
                int knot_count,
                bool is_refinement,
                const TransitionSeed* transition = nullptr);

// Carries the unknowns of one grid to another of the same cycle: open plans have one stage.
PlanUnknowns Resample(const PlanProblem& from, const PlanUnknowns& unknowns, const Stage& to);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_PLAN_STAGE_H_
