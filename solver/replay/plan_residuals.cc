#include "solver/replay/plan_residuals.h"

#include <algorithm>
#include <cmath>

#include <Eigen/LU>

#include "solver/mechanism/midpoint.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::Vector2d;
using Eigen::Vector3d;
using Eigen::VectorXd;

// The largest of each kind so far.
struct Worst {
  double dynamics = 0.0;
  double penetration = 0.0;
  double complementarity = 0.0;
  double cone = 0.0;
  double dissipation = 0.0;
  double periodicity = 0.0;
  double voltage = 0.0;
  double travel = 0.0;
};

void Raise(double value, double* worst) {
  // A NaN must not pass for a small residual.
  *worst = value <= *worst ? *worst : value;
}

// Contact laws of the interval from knot k to k + 1; adds the feet's generalised force.
void CheckFeet(const RobotModel& model,
               const GaitTrack& track,
               Index knot,
               VectorXd* force,
               Worst* worst) {
  const VectorXd start = track.Position(knot);
  const VectorXd end = track.Position(knot + 1);
  const VectorXd forces = track.FootForces(knot);
  FootKinematics before, after;
  for (Index i = 0; i < model.foot_count(); ++i) {
    model.EvaluateFoot(start, i, false, &before);
    model.EvaluateFoot(end, i, true, &after);
    const Vector3d f = forces.segment<3>(3 * i);
    *force += after.jacobian.transpose() * f;
    const double gap = after.position[2];
    const Vector2d speed = (after.position - before.position).head<2>() / track.knot_period();
    const double friction = f.head<2>().norm();
    Raise(-gap, &worst->penetration);
    Raise(std::abs(gap * f[2]), &worst->complementarity);
    // A force that pulls leaves the cone as well.
    Raise(std::max(friction - model.friction() * f[2], -f[2]), &worst->cone);
    Raise(std::abs(model.friction() * f[2] * speed.norm() + f.head<2>().dot(speed)),
          &worst->dissipation);
  }
}

void CheckLimits(const RobotModel& model, const GaitTrack& track, Index knot, Worst* worst) {
  const VectorXd u = track.Drives(knot);
  const VectorXd legs = track.Position(knot).tail(2 * model.leg_count());
  for (Index i = 0; i < u.size(); ++i) {
    const Drive& drive = model.drives()[static_cast<size_t>(i)];
    const Travel& travel = model.travels()[static_cast<size_t>(i)];
    if (drive.is_present) {
      Raise(std::max(u[i] - drive.upper, drive.lower - u[i]), &worst->voltage);
    }
    Raise(std::max(legs[i] - travel.upper, travel.lower - legs[i]), &worst->travel);
  }
}

}  // namespace

v1::PlanResiduals ComputePlanResiduals(const RobotModel& model, const GaitTrack& track) {
  const Index n = track.knot_count();
  const Index first = track.is_periodic() ? 0 : 1;
  const Index last = track.is_periodic() ? n - 1 : n - 2;
  const double weight = model.total_mass() * model.gravity().norm();
  Worst worst;
  MidpointInterval before, after;
  before.Resize(model.coordinate_count());
  after.Resize(model.coordinate_count());
  VectorXd drive;
  for (Index k = first; k <= last; ++k) {
    const VectorXd here = track.Position(k);
    EvaluateMidpoint(
        model, track.Position(k - 1), here, track.knot_period(), DerivativeOrder::kFirst, &before);
    EvaluateMidpoint(
        model, here, track.Position(k + 1), track.knot_period(), DerivativeOrder::kSecond, &after);
    model.DriveForce(here, track.Drives(k), &drive);
    VectorXd residual = before.right + after.left + drive;
    CheckFeet(model, track, k, &residual, &worst);
    Raise(residual.lpNorm<Eigen::Infinity>() / weight, &worst.dynamics);
    if (track.is_periodic() && k == last) {
      const VectorXd miss = after.left_q1.partialPivLu().solve(residual);
      Raise(miss.lpNorm<Eigen::Infinity>(), &worst.periodicity);
    }
  }
  for (Index k = 0; k < n; ++k) {
    CheckLimits(model, track, k, &worst);
  }
  v1::PlanResiduals residuals;
  residuals.set_dynamics_ratio(worst.dynamics);
  residuals.set_penetration_ratio(worst.penetration);
  residuals.set_complementarity_ratio(worst.complementarity / weight);
  residuals.set_cone_ratio(worst.cone / weight);
  residuals.set_dissipation_ratio(worst.dissipation / weight);
  residuals.set_periodicity_ratio(worst.periodicity);
  residuals.set_voltage_ratio(worst.voltage);
  residuals.set_travel_ratio(worst.travel);
  double largest = 0.0;
  for (const double value : {residuals.dynamics_ratio(),
                             residuals.penetration_ratio(),
                             residuals.complementarity_ratio(),
                             residuals.cone_ratio(),
                             residuals.dissipation_ratio(),
                             residuals.periodicity_ratio(),
                             residuals.voltage_ratio(),
                             residuals.travel_ratio()}) {
    Raise(value, &largest);
  }
  residuals.set_worst_ratio(largest);
  return residuals;
}

}  // namespace gaitshelf::solver
