#include "solver/plan/evaluation.h"

#include <algorithm>
#include <cmath>

#include "solver/leg/plane.h"

namespace gaitshelf::solver {
namespace {

double Excess(double value, double lower, double upper) {
  return std::max({0.0, value - upper, lower - value});
}

}  // namespace

void PlanUnknowns::DeriveDriveFigures(const PlanProblem& problem) {
  const auto drives = controls.topRows(problem.drive_count());
  const int count = problem.end_free_knot() - problem.first_free_knot();
  mean_drive = drives.middleCols(problem.first_free_knot(), count).rowwise().mean();
  peak_drive = drives.size() > 0 ? drives.cwiseAbs().maxCoeff() : 0.0;
}

double PlanViolation::Worst() const {
  return std::max({dynamics, contact, drive, travel, sliding});
}

PlanEvaluation::PlanEvaluation(const PlanProblem* problem, const PlanUnknowns* unknowns)
    : problem_(problem), unknowns_(unknowns) {
  const size_t knots = static_cast<size_t>(problem->knot_count);
  const size_t contacts = knots * static_cast<size_t>(problem->foot_count());
  const Eigen::Index n = problem->coordinate_count();
  intervals_.resize(knots);
  for (MidpointInterval& interval : intervals_) {
    interval.Resize(n);
  }
  feet_.resize(contacts);
  for (FootKinematics& foot : feet_) {
    foot.jacobian.setZero(3, n);
  }
  normal_laws_.resize(contacts);
  friction_laws_.resize(contacts);
  dynamics_.setZero(n, problem->knot_count);
  contact_.setZero(4 * problem->foot_count(), problem->knot_count);
  drive_force_.setZero(n);
}

void PlanEvaluation::Update(double smoothing, bool with_jacobians) {
  UpdateFeet(with_jacobians);
  UpdateIntervals(with_jacobians);
  UpdateContact(smoothing);
  UpdateDynamics();
}

void PlanEvaluation::UpdateFeet(bool /*with_jacobians*/) {
  // The jacobian is needed even for values: it carries the foot forces into the equations of
  // motion.
  for (int k = 0; k < problem_->knot_count; ++k) {
    for (Eigen::Index i = 0; i < problem_->foot_count(); ++i) {
      problem_->model->EvaluateFoot(unknowns_->coordinates.col(k),
                                    i,
                                    true,
                                    &feet_[static_cast<size_t>(k * problem_->foot_count() + i)]);
    }
  }
  if (IsTurnedEnd(problem_->knot_count - 1)) {
    TurnFeet();
  }
}

void PlanEvaluation::Turn(double direction, Eigen::Ref<Eigen::MatrixXd> columns) const {
  const double c = std::cos(problem_->turn);
  const double s = direction * std::sin(problem_->turn);
  const Eigen::RowVectorXd x = columns.row(0);
  columns.row(0) = c * x - s * columns.row(1);
  columns.row(1) = s * x + c * columns.row(1);
}

Eigen::Vector2d PlanEvaluation::StrideDirection() const {
  const PlanarPose way = problem_->Motion(unknowns_->stride).EndByAdvance();
  Eigen::MatrixXd direction = Eigen::Vector2d(way.x, way.y);
  if (problem_->turn != 0.0) {
    Turn(-1.0, direction);
  }
  return direction;
}

void PlanEvaluation::TurnFeet() {
  const PlanarPose end = problem_->Motion(unknowns_->stride).End();
  turned_feet_.resize(static_cast<size_t>(problem_->foot_count()));
  turned_force_jacobians_.resize(turned_feet_.size());
  for (Eigen::Index i = 0; i < problem_->foot_count(); ++i) {
    FootKinematics& turned = turned_feet_[static_cast<size_t>(i)];
    turned = foot(0, i);
    Turn(1.0, turned.position);
    turned.position += Eigen::Vector3d(end.x, end.y, 0.0);
    Turn(1.0, turned.jacobian);
    // By the coordinates of the end itself: the columns of x and y are turned back.
    Eigen::MatrixXd by_end = turned.jacobian.transpose();
    Turn(1.0, by_end);
    turned_force_jacobians_[static_cast<size_t>(i)] = by_end.transpose();
  }
}

// With q_N = T q_0 and T' turning x and y back: forces T' right, derivatives T' right_q1 T and so
// on.
void PlanEvaluation::TurnInterval(bool with_jacobians, MidpointInterval* interval) const {
  Turn(-1.0, interval->right);
  if (!with_jacobians) {
    return;
  }
  const auto by_start = [this](Eigen::MatrixXd* by_end) {
    Eigen::MatrixXd transposed = by_end->transpose();
    Turn(-1.0, transposed);
    *by_end = transposed.transpose();
  };
  Turn(-1.0, interval->right_q0);
  Turn(-1.0, interval->right_q1);
  by_start(&interval->right_q1);
  by_start(&interval->left_q1);
}

void PlanEvaluation::UpdateIntervals(bool with_jacobians) {
  const DerivativeOrder order = with_jacobians ? DerivativeOrder::kSecond : DerivativeOrder::kFirst;
  const int count = problem_->is_periodic ? problem_->knot_count : problem_->knot_count - 1;
  Eigen::VectorXd end(problem_->coordinate_count());
  for (int k = 0; k < count; ++k) {
    end = unknowns_->coordinates.col(problem_->knot_after(k));
    if (k == problem_->knot_count - 1) {
      MoveOn(problem_->Motion(unknowns_->stride), &end);
    }
    MidpointInterval& interval = intervals_[static_cast<size_t>(k)];
    EvaluateMidpoint(*problem_->model,
                     unknowns_->coordinates.col(k),
                     end,
                     problem_->knot_period,
                     order,
                     &interval);
    if (IsTurnedEnd(k)) {
      TurnInterval(with_jacobians, &interval);
    }
  }
}

Eigen::Vector2d PlanEvaluation::SlidingVelocity(int k, Eigen::Index i) const {
  Eigen::Vector2d move = end_foot(k, i).position.head<2>() - foot(k, i).position.head<2>();
  if (problem_->is_periodic && k == problem_->knot_count - 1 && problem_->turn == 0.0) {
    move += Eigen::Vector2d(unknowns_->stride, problem_->sidestep);
  }
  return move / problem_->knot_period;
}

Eigen::Vector3d PlanEvaluation::FootForce(int k, Eigen::Index i) const {
  const Eigen::Index at = problem_->foot_control(i);
  return {
      unknowns_->controls(at + 1, k), unknowns_->controls(at + 2, k), unknowns_->controls(at, k)};
}

void PlanEvaluation::UpdateContact(double smoothing) {
  const ContactScale& scale = problem_->contact;
  const double friction = problem_->model->friction();
  for (int k = problem_->first_free_knot(); k < problem_->end_free_knot(); ++k) {
    for (Eigen::Index i = 0; i < problem_->foot_count(); ++i) {
      const size_t at = static_cast<size_t>(k * problem_->foot_count() + i);
      const Eigen::Vector3d force = FootForce(k, i);
      const double gap = foot(problem_->knot_after(k), i).position.z();
      // A foot that is fixed on the surface cannot give way to the smoothing: it would ask for ever
      // larger forces.
      const bool is_fixed = problem_->is_fixed_knot(problem_->knot_after(k));
      normal_laws_[at] = EvaluateScalarComplementarity(
          gap / scale.gap,
          force.z() / scale.force,
          is_fixed ? std::min(smoothing, problem_->fixed_foot_smoothing) : smoothing);
      const Eigen::Vector2d velocity = SlidingVelocity(k, i) / scale.speed;
      const double speed = unknowns_->controls(problem_->foot_control(i) + 3, k);
      friction_laws_[at] = EvaluateConeComplementarity(
          Eigen::Vector3d(friction * force.z(), force.x(), force.y()) / scale.force,
          Eigen::Vector3d(speed, velocity.x(), velocity.y()),
          smoothing);
      contact_(4 * i, k) = normal_laws_[at].value;
      contact_.block<3, 1>(4 * i + 1, k) = friction_laws_[at].value;
    }
  }
}

void PlanEvaluation::UpdateDynamics() {
  for (int k = problem_->first_free_knot(); k < problem_->end_free_knot(); ++k) {
    problem_->model->DriveForce(unknowns_->coordinates.col(k),
                                unknowns_->controls.col(k).head(problem_->drive_count()),
                                &drive_force_);
    dynamics_.col(k) = interval(problem_->knot_before(k)).right + interval(k).left + drive_force_;
    for (Eigen::Index i = 0; i < problem_->foot_count(); ++i) {
      dynamics_.col(k).noalias() += force_jacobian(k, i).transpose() * FootForce(k, i);
    }
  }
}

PlanViolation PlanEvaluation::Violation() const {
  PlanViolation violation;
  violation.dynamics = dynamics_.cwiseAbs().maxCoeff();
  violation.contact = contact_.size() > 0 ? contact_.cwiseAbs().maxCoeff() : 0.0;
  const RobotModel& model = *problem_->model;
  for (int k = problem_->first_free_knot(); k < problem_->end_free_knot(); ++k) {
    for (Eigen::Index i = 0; problem_->forbids_sliding() && i < problem_->foot_count(); ++i) {
      const double power = FootForce(k, i).z() * SlidingVelocity(k, i).norm();
      violation.sliding = std::max(violation.sliding, problem_->greatest_friction * power);
    }
    for (Eigen::Index d = 0; d < problem_->drive_count(); ++d) {
      const Drive& drive = model.drives()[static_cast<size_t>(d)];
      if (drive.is_present) {
        violation.drive =
            std::max(violation.drive, Excess(unknowns_->controls(d, k), drive.lower, drive.upper));
      }
      const Travel& travel = model.travels()[static_cast<size_t>(d)];
      violation.travel = std::max(
          violation.travel,
          Excess(unknowns_->coordinates(model.base_count() + d, k), travel.lower, travel.upper));
    }
  }
  return violation;
}

}  // namespace gaitshelf::solver
