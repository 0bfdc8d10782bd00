#include "solver/plan/inverse.h"

#include <algorithm>

#include <Eigen/LU>

#include "solver/plan/evaluation.h"

namespace gaitshelf::solver {
namespace {

constexpr double kSeedDriveLimit = 0.9;

}  // namespace

void ReachFoot(const RobotModel& model, Eigen::Index leg, double x, double z, Eigen::VectorXd* q) {
  const Eigen::Index at = model.base_count() + 2 * leg;
  FootKinematics foot;
  foot.jacobian.setZero(3, model.coordinate_count());
  // Newton on two smooth functions of two unknowns; a handful of steps reaches round-off, clamped
  // ones stay.
  for (int step = 0; step < 8; ++step) {
    model.EvaluateFoot(*q, leg, true, &foot);
    const Eigen::Vector2d miss(x - foot.position.x(), z - foot.position.z());
    Eigen::Matrix2d jacobian;
    jacobian.row(0) = foot.jacobian.block<1, 2>(0, at);
    jacobian.row(1) = foot.jacobian.block<1, 2>(2, at);
    const Eigen::Vector2d move = jacobian.fullPivLu().solve(miss);
    for (Eigen::Index j = 0; j < 2; ++j) {
      const Travel& travel = model.travels()[static_cast<size_t>(2 * leg + j)];
      (*q)(at + j) = std::clamp((*q)(at + j) + move(j), travel.lower, travel.upper);
    }
  }
}

void SetDrivesByInverseDynamics(const PlanProblem& problem, PlanUnknowns* unknowns) {
  const RobotModel& model = *problem.model;
  const Eigen::Index drives = problem.drive_count();
  unknowns->controls.topRows(drives).setZero();
  PlanEvaluation evaluation(&problem, unknowns);
  constexpr double kAnySmoothing = 0.1;  // the contact laws are not read here
  evaluation.Update(kAnySmoothing, false);
  Eigen::MatrixXd by_u = Eigen::MatrixXd::Zero(problem.coordinate_count(), drives);
  for (int k = problem.first_free_knot(); k < problem.end_free_knot(); ++k) {
    model.DriveJacobian(unknowns->coordinates.col(k), &by_u);
    const Eigen::MatrixXd leg_rows = by_u.bottomRows(drives);
    const Eigen::VectorXd u =
        leg_rows.fullPivLu().solve(-evaluation.dynamics().col(k).tail(drives));
    unknowns->controls.col(k).head(drives) = u.cwiseMax(-kSeedDriveLimit).cwiseMin(kSeedDriveLimit);
  }
}

}  // namespace gaitshelf::solver
