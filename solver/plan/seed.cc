#include "solver/plan/seed.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "solver/base/constants.h"
#include "solver/leg/plane.h"
#include "solver/plan/inverse.h"

namespace gaitshelf::solver {
namespace {

struct LegPlace {
  int rank_from_front = 0;
  bool is_right = false;
};

// Orders the legs of each side from front to rear.
std::vector<LegPlace> PlaceLegs(const RobotModel& model, int* rank_count) {
  const Eigen::VectorXd posture = model.ReferencePosture();
  std::vector<Eigen::Vector3d> feet;
  FootKinematics foot;
  for (Eigen::Index leg = 0; leg < model.leg_count(); ++leg) {
    model.EvaluateFoot(posture, leg, false, &foot);
    feet.push_back(foot.position);
  }
  std::vector<LegPlace> places(feet.size());
  *rank_count = 1;
  for (size_t a = 0; a < feet.size(); ++a) {
    places[a].is_right = feet[a].y() < 0.0;
    for (size_t b = 0; b < feet.size(); ++b) {
      const bool same_side = (feet[b].y() < 0.0) == places[a].is_right;
      if (same_side && (feet[b].x() > feet[a].x() || (b < a && feet[b].x() == feet[a].x()))) {
        ++places[a].rank_from_front;
      }
    }
    *rank_count = std::max(*rank_count, places[a].rank_from_front + 1);
  }
  return places;
}

double LimbPhase(const LegPlace& place, int rank_count, v1::SeedPattern pattern) {
  const double side = place.is_right ? 0.5 : 0.0;
  switch (pattern) {
    case v1::SEED_PATTERN_WALK: {
      // Lateral sequence: each side from rear to front, the sides half a cycle apart.
      const int rank_from_rear = rank_count - 1 - place.rank_from_front;
      return side + 0.5 * rank_from_rear / rank_count;
    }
    case v1::SEED_PATTERN_PACE:
      return side;
    case v1::SEED_PATTERN_BOUND:
      return 0.5 * (place.rank_from_front % 2);
    case v1::SEED_PATTERN_PRONK:
      return 0.0;
    default:
      return 0.5 * ((place.rank_from_front + (place.is_right ? 1 : 0)) % 2);
  }
}

struct FootTarget {
  bool stands = true;
  double ahead = 0.0;   // of the foot's neutral place, in strides
  double height = 0.0;  // in clearances
};

// Path of one foot at the share `time` of the cycle after its touchdown.
FootTarget TargetAt(double time, double duty) {
  const double tau = time - std::floor(time);
  const double reach = 0.5 * duty;
  if (tau < duty) {
    return {true, reach - tau, 0.0};
  }
  const double sigma = (tau - duty) / (1.0 - duty);
  const double smooth = sigma * sigma * (3.0 - 2.0 * sigma);
  const double sine = std::sin(kPi * sigma);
  return {false, -reach + 2.0 * reach * smooth, sine * sine};
}

// Shares the weight evenly among the feet that stand at the end of the interval after knot k, where
// its force acts, and asks for a part of an even load on all feet.
void SeedLoads(const SeedParameters& seed,
               const std::vector<double>& phases,
               int k,
               PlanProblem* problem,
               PlanUnknowns* unknowns) {
  const double weight = problem->model->total_mass() * problem->model->gravity().norm();
  const double next = static_cast<double>(k + 1) / problem->knot_count;
  const auto stands = [&](double phase) { return TargetAt(next - phase, seed.duty).stands; };
  const auto standing = std::count_if(phases.begin(), phases.end(), stands);
  for (size_t leg = 0; leg < phases.size(); ++leg) {
    if (!stands(phases[leg])) {
      continue;
    }
    const auto foot = static_cast<Eigen::Index>(leg);
    unknowns->controls(problem->foot_control(foot), k) = weight / static_cast<double>(standing);
    if (seed.asked_load > 0.0) {
      problem->load_target(foot, k) = seed.asked_load * weight / static_cast<double>(phases.size());
    }
  }
}

}  // namespace

std::vector<double> LimbPhases(const RobotModel& model, v1::SeedPattern pattern) {
  int rank_count = 0;
  std::vector<double> phases;
  for (const LegPlace& place : PlaceLegs(model, &rank_count)) {
    phases.push_back(LimbPhase(place, rank_count, pattern));
  }
  return phases;
}

SeedParameters DefaultSeed(const RobotModel& model, v1::SeedPattern pattern) {
  SeedParameters seed;
  seed.pattern = pattern;
  seed.duty = pattern == v1::SEED_PATTERN_WALK ? 0.75 : 0.5;
  seed.body_height = model.base_count() > 0 ? model.ReferencePosture()(2) : 0.0;
  // Three quarters of the lift that a foot has above its standing place leaves room for the body's
  // own motion.
  constexpr double kLiftShare = 0.75;
  double lift = 0.0;
  for (Eigen::Index leg = 0; leg < model.leg_count(); ++leg) {
    const double upper = model.travels()[static_cast<size_t>(2 * leg)].upper;
    lift = leg == 0 ? upper : std::min(lift, upper);
  }
  seed.clearance = kLiftShare * lift;
  return seed;
}

void SeedAdvance(const SeedParameters& seed, PlanProblem* problem, PlanUnknowns* unknowns) {
  const RobotModel& model = *problem->model;
  const int knots = problem->knot_count;
  const double stride = problem->stride_target;
  const std::vector<double> phases = LimbPhases(model, seed.pattern);
  Eigen::VectorXd neutral = model.ReferencePosture();
  neutral(2) = seed.body_height;
  const Eigen::VectorXd level = neutral;
  neutral(3) = seed.roll;
  neutral(4) = seed.pitch;
  const PlanarMotion motion = problem->Motion(stride);
  problem->posture_target.setZero(problem->coordinate_count(), knots);
  problem->clearance_target.setZero(problem->foot_count(), knots);
  if (seed.asked_load > 0.0) {
    problem->load_target.setZero(problem->foot_count(), knots);
  }
  unknowns->controls.setZero(problem->control_count(), knots);
  unknowns->stride = stride;
  FootKinematics foot;
  for (int k = 0; k < knots; ++k) {
    Eigen::VectorXd q = neutral;
    const double progress = static_cast<double>(k) / knots;
    for (Eigen::Index leg = 0; leg < model.leg_count(); ++leg) {
      const double phase = phases[static_cast<size_t>(leg)];
      model.EvaluateFoot(level, leg, false, &foot);
      const FootTarget target = TargetAt(progress - phase, seed.duty);
      // The outer feet of a turn go further than the inner ones.
      const double own_stride = stride - problem->turn * foot.position.y();
      ReachFoot(model,
                leg,
                foot.position.x() + own_stride * target.ahead,
                seed.clearance * target.height,
                &q);
      problem->clearance_target(leg, k) = seed.asked_share * seed.clearance * target.height;
    }
    SeedLoads(seed, phases, k, problem, unknowns);
    MoveOn(motion.Times(progress), &q);
    problem->posture_target.col(k) = q;
  }
  unknowns->coordinates = problem->posture_target;
  SetDrivesByInverseDynamics(*problem, unknowns);
}

}  // namespace gaitshelf::solver
