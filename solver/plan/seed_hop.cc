// The seed of a hop: crouch, push, ballistic flight, landing, straight up and down.
#include <algorithm>
#include <cmath>

#include "solver/base/constants.h"
#include "solver/plan/inverse.h"
#include "solver/plan/seed.h"

namespace gaitshelf::solver {
namespace {

// Shares of the lift travel used in the crouch and at take-off.
constexpr double kCrouchShare = 0.8;
constexpr double kExtendShare = 0.8;
// Gravity is 1 in scaled units; the times below are in sqrt(leg length / gravity). A shorter crouch
// or landing asks more of the drives than they have.
constexpr double kCrouchTime = 1.9;
constexpr double kLandingTime = 2.3;

struct HopShape {
  double crouch_depth = 0.0;
  double extension = 0.0;
  double takeoff_speed = 0.0;
  double push_time = 0.0;
};

// Lift below and above the standing posture that all legs have.
HopShape ShapeHop(const RobotModel& model, double rise) {
  double down = 0.0;
  double up = 0.0;
  for (Eigen::Index leg = 0; leg < model.leg_count(); ++leg) {
    const Travel& lift = model.travels()[static_cast<size_t>(2 * leg)];
    // A crouching body raises the leg coordinate, an extended leg lowers it.
    down = leg == 0 ? lift.upper : std::min(down, lift.upper);
    up = leg == 0 ? -lift.lower : std::min(up, -lift.lower);
  }
  HopShape shape;
  shape.crouch_depth = kCrouchShare * down;
  shape.extension = std::min(kExtendShare * up, 0.5 * rise);
  const double gravity = model.gravity().norm();
  shape.takeoff_speed = std::sqrt(2.0 * gravity * (rise - shape.extension));
  shape.push_time = 2.0 * (shape.crouch_depth + shape.extension) / shape.takeoff_speed;
  return shape;
}

struct BodyTarget {
  double height = 0.0;  // above standing
  double acceleration = 0.0;
  bool is_airborne = false;
};

// Shares of the whole way that body and feet have gone.
struct WayTarget {
  double body = 0.0;
  double feet = 0.0;
};

// Push of constant acceleration from the crouch, `time` before take-off (negative sense: 0 at
// take-off).
double PushHeight(const HopShape& shape, double until_takeoff) {
  const double acceleration = shape.takeoff_speed / shape.push_time;
  return shape.extension - shape.takeoff_speed * until_takeoff +
         0.5 * acceleration * until_takeoff * until_takeoff;
}

BodyTarget GroundTarget(const HopShape& shape, double until_takeoff, double duration) {
  if (until_takeoff < shape.push_time) {
    return {PushHeight(shape, until_takeoff), shape.takeoff_speed / shape.push_time, false};
  }
  const double sink = std::max(duration - shape.push_time, 1e-6);
  const double share = std::clamp((duration - until_takeoff) / sink, 0.0, 1.0);
  return {-shape.crouch_depth * 0.5 * (1.0 - std::cos(kPi * share)), 0.0, false};
}

BodyTarget TargetAt(const HopShape& shape, const HopTiming& timing, double gravity, double time) {
  if (time < timing.crouch) {
    return GroundTarget(shape, timing.crouch - time, timing.crouch);
  }
  const double aloft = time - timing.crouch;
  if (aloft < timing.flight) {
    return {shape.extension + shape.takeoff_speed * aloft - 0.5 * gravity * aloft * aloft,
            -gravity,
            true};
  }
  // Landing mirrors the take-off in time.
  return GroundTarget(shape, aloft - timing.flight, timing.landing);
}

// The push speeds the body up evenly, the landing slows it down as long; in between it drifts.
WayTarget WayAt(const HopShape& shape, const HopTiming& timing, double time) {
  const double speed = 1.0 / (timing.flight + shape.push_time);
  const double aloft = time - timing.crouch;
  const double flown = std::clamp(aloft / timing.flight, 0.0, 1.0);
  const auto pushed = [&](double duration) {
    const double left = std::max(0.0, shape.push_time - duration);
    return 0.5 * speed * left * left / shape.push_time;
  };
  WayTarget way;
  way.feet = flown * flown * (3.0 - 2.0 * flown);
  if (aloft < 0.0) {
    way.body = pushed(-aloft);
  } else if (aloft < timing.flight) {
    way.body = speed * (0.5 * shape.push_time + aloft);
  } else {
    way.body = 1.0 - pushed(aloft - timing.flight);
  }
  return way;
}

}  // namespace

HopTiming TimeHop(const RobotModel& model, double rise) {
  const HopShape shape = ShapeHop(model, rise);
  HopTiming timing;
  timing.crouch = std::max(kCrouchTime, 2.0 * shape.push_time);
  timing.flight = 2.0 * shape.takeoff_speed / model.gravity().norm();
  timing.landing = std::max(kLandingTime, 2.0 * shape.push_time);
  return timing;
}

void SeedHop(const HopTiming& timing,
             const HopAim& aim,
             PlanProblem* problem,
             PlanUnknowns* unknowns) {
  const RobotModel& model = *problem->model;
  const int knots = problem->knot_count;
  const double gravity = model.gravity().norm();
  const HopShape shape = ShapeHop(model, aim.rise);
  const Eigen::VectorXd standing = model.ReferencePosture();
  problem->posture_target.setZero(problem->coordinate_count(), knots);
  problem->clearance_target.setZero(problem->foot_count(), knots);
  unknowns->controls.setZero(problem->control_count(), knots);
  unknowns->stride = 0.0;
  FootKinematics foot;
  for (int k = 0; k < knots; ++k) {
    Eigen::VectorXd q = standing;
    const double time = (k - 0.5) * problem->knot_period;
    const BodyTarget body = TargetAt(shape, timing, gravity, time);
    const BodyTarget next = TargetAt(shape, timing, gravity, time + problem->knot_period);
    const WayTarget way = WayAt(shape, timing, time);
    if (problem->is_fixed_knot(k)) {
      q(0) += k < 2 ? 0.0 : aim.advance;
    } else {
      q(0) += aim.advance * way.body;
      q(2) += body.height;
      for (Eigen::Index leg = 0; leg < model.leg_count(); ++leg) {
        model.EvaluateFoot(standing, leg, false, &foot);
        ReachFoot(model,
                  leg,
                  foot.position.x() + aim.advance * way.feet,
                  std::max(0.0, body.height - shape.extension),
                  &q);
      }
    }
    for (Eigen::Index leg = 0; leg < model.leg_count(); ++leg) {
      const double load = model.total_mass() * (gravity + next.acceleration);
      unknowns->controls(problem->foot_control(leg), k) =
          next.is_airborne ? 0.0 : load / static_cast<double>(model.leg_count());
    }
    problem->posture_target.col(k) = q;
  }
  problem->apex = Apex{static_cast<int>(std::lround(
                           (timing.crouch + 0.5 * timing.flight) / problem->knot_period + 0.5)),
                       standing(2) + aim.rise};
  unknowns->coordinates = problem->posture_target;
  SetDrivesByInverseDynamics(*problem, unknowns);
}

}  // namespace gaitshelf::solver
