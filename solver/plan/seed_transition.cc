// The seed of a transition: the two cycles laid over each other while the frequency goes from the
// one to the other.
#include <algorithm>
#include <vector>

#include "solver/leg/plane.h"
#include "solver/plan/seed.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

// Of the height that the seed lifts a foot to, what the plan is asked to keep; as SeedParameters.
constexpr double kAskedShare = 0.7;

// Rises evenly from 0 to 1 without a corner.
double Smooth(double share) { return share * share * (3.0 - 2.0 * share); }

// The course of a transition: shares of the second gait at each knot, and the phase that goes by in
// each interval. The first and the last interval are the gaits' own.
struct Course {
  std::vector<double> shares;
  std::vector<double> steps;
};

Course SetCourse(const TransitionSeed& seed, double knot_period) {
  const int knots = seed.grid.knot_count;
  const double first = knot_period / seed.from->period();
  const double last = 1.0 / seed.to->knot_count();
  Course course;
  course.shares.resize(static_cast<size_t>(knots), 0.0);
  course.steps.resize(static_cast<size_t>(knots - 1), first);
  double between = 0.0;
  for (int k = 1; k < knots; ++k) {
    const double interior = knots - 3;
    const double share = k < knots - 2 ? (k - 1) / interior : 1.0;
    course.shares[static_cast<size_t>(k)] = Smooth(share);
    if (k < knots - 2) {
      const double step = first + (last - first) * Smooth((k - 0.5) / interior);
      course.steps[static_cast<size_t>(k)] = step;
      between += step;
    }
  }
  course.steps.back() = last;
  // Whole knots are not exactly the time that the phases take.
  const double stretch = (seed.grid.cycles - first - last) / between;
  for (int k = 1; k < knots - 2; ++k) {
    course.steps[static_cast<size_t>(k)] *= stretch;
  }
  return course;
}

// Where the steady frames of both gaits, mixed, have gone after each interval.
PlanarPose GoOn(const TransitionSeed& seed, double share, double step, const PlanarPose& pose) {
  const PlanarMotion from = seed.from->motion().Times((1.0 - share) * step);
  const PlanarMotion to = seed.to->motion().Times(share * step);
  const PlanarMotion both = {
      from.advance + to.advance, from.sidestep + to.sidestep, from.turn + to.turn};
  return pose.Then(both.End());
}

// What a knot takes of both gaits.
struct Mix {
  double share = 0.0;  // of the second
  double from_phase = 0.0;
  double to_phase = 0.0;
};

void SetControls(const TransitionSeed& seed,
                 const Mix& mix,
                 const PlanProblem& problem,
                 int k,
                 PlanUnknowns* unknowns) {
  const VectorXd drives = (1.0 - mix.share) * seed.from->Drives(mix.from_phase) +
                          mix.share * seed.to->Drives(mix.to_phase);
  const VectorXd forces = (1.0 - mix.share) * seed.from->FootForces(mix.from_phase) +
                          mix.share * seed.to->FootForces(mix.to_phase);
  unknowns->controls.col(k).head(problem.drive_count()) = drives;
  for (Index i = 0; i < problem.foot_count(); ++i) {
    const Index at = problem.foot_control(i);
    unknowns->controls(at, k) = forces(3 * i + 2);
    unknowns->controls(at + 1, k) = forces(3 * i);
    unknowns->controls(at + 2, k) = forces(3 * i + 1);
  }
}

}  // namespace

void SeedTransition(const TransitionSeed& seed, PlanProblem* problem, PlanUnknowns* unknowns) {
  const RobotModel& model = *problem->model;
  const int knots = problem->knot_count;
  const Course course = SetCourse(seed, problem->knot_period);
  const double start = static_cast<double>(seed.grid.from_knot) / seed.from->knot_count();
  const double end = static_cast<double>(seed.grid.to_knot) / seed.to->knot_count();
  problem->posture_target.setZero(problem->coordinate_count(), knots);
  problem->clearance_target.setZero(problem->foot_count(), knots);
  unknowns->controls.setZero(problem->control_count(), knots);
  unknowns->stride = 0.0;
  FootKinematics foot;
  PlanarPose pose;
  double gone = 0.0;
  for (int k = 0; k < knots; ++k) {
    const double share = course.shares[static_cast<size_t>(k)];
    const double from_phase = start + gone;
    // Counted from the end, so that the last knots are those of the second gait exactly.
    const double left =
        k < knots - 2 ? seed.grid.cycles - gone : (knots - 1 - k) * course.steps.back();
    const double to_phase = end - left;
    VectorXd q =
        (1.0 - share) * seed.from->Relative(from_phase) + share * seed.to->Relative(to_phase);
    SetPlane(pose.Then(PlaneOf(q)), &q);
    problem->posture_target.col(k) = q;
    for (Index i = 0; i < problem->foot_count(); ++i) {
      model.EvaluateFoot(q, i, false, &foot);
      problem->clearance_target(i, k) = kAskedShare * std::max(0.0, foot.position.z());
    }
    SetControls(seed, {share, from_phase, to_phase}, *problem, k, unknowns);
    if (k + 1 < knots) {
      const double step = course.steps[static_cast<size_t>(k)];
      const double next = course.shares[static_cast<size_t>(k + 1)];
      pose = GoOn(seed, 0.5 * (share + next), step, pose);
      gone += step;
    }
  }
  unknowns->coordinates = problem->posture_target;
}

}  // namespace gaitshelf::solver
