#include "solver/replay/contact_step.h"

#include <algorithm>

#include <Eigen/LU>

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

void ChangeStep(double h, ReplayState* state) {
  CarryMomentum(state->step, h, state->knot_force, &state->knot.momentum);
  state->step = h;
}

}  // namespace

ReplayState StartWithVelocity(const RobotModel& model,
                              const VectorXd& position,
                              const VectorXd& velocity,
                              double step) {
  LagrangianTerms terms;
  model.Evaluate(position, velocity, DerivativeOrder::kFirst, &terms);
  ReplayState state;
  state.knot.position = position;
  state.knot.momentum = terms.momentum;
  state.velocity = velocity;
  state.foot_forces = VectorXd::Zero(3 * model.foot_count());
  state.knot_force = VectorXd::Zero(model.coordinate_count());
  state.step = step;
  return state;
}

ReplayState StartAfterInterval(const RobotModel& model,
                               const VectorXd& previous,
                               const VectorXd& position,
                               double step) {
  MidpointInterval interval;
  EvaluateMidpoint(model, previous, position, step, DerivativeOrder::kFirst, &interval);
  ReplayState state =
      StartWithVelocity(model, position, VectorXd((position - previous) / step), step);
  state.knot.momentum = step * interval.right;
  return state;
}

ContactStepper::ContactStepper(const RobotModel* model) : model_(*model) {
  const Index n = model_.coordinate_count();
  const Index feet = model_.foot_count();
  interval_.Resize(n);
  jacobian_.setZero(3 * feet, n);
  motion_.setZero(3 * feet);
  foot_before_.setZero(3, feet);
  feet_.friction = model_.friction();
  weight_ = model_.total_mass() * model_.gravity().norm();
}

void ContactStepper::EvaluateFeet() {
  for (Index foot = 0; foot < model_.foot_count(); ++foot) {
    model_.EvaluateFoot(next_, foot, true, &kinematics_);
    jacobian_.middleRows<3>(3 * foot) = kinematics_.jacobian;
    motion_.segment<2>(3 * foot) =
        kinematics_.position.head<2>() - foot_before_.col(foot).head<2>();
    motion_[3 * foot + 2] = kinematics_.position[2];
  }
}

void ContactStepper::SolveLinear(const VectorXd& residual, VectorXd* change, StepReport* report) {
  // Stiffness of the step: minus the derivative of all forces by the next position.
  MatrixXd stiffness = -interval_.left_q1;
  for (Index foot = 0; foot < model_.foot_count(); ++foot) {
    const Eigen::Vector3d force = -forces_.segment<3>(3 * foot);
    if (force[2] != 0.0) {
      model_.AddFootHessian(next_, foot, force, &stiffness);
    }
  }
  const Eigen::PartialPivLU<MatrixXd> lu(stiffness);
  *change = lu.solve(residual);
  if (forces_.size() == 0) {
    return;
  }
  const MatrixXd response = lu.solve(jacobian_.transpose());
  feet_.mobility.noalias() = jacobian_ * response;
  feet_.free = motion_ + jacobian_ * *change;
  // Aims far below the step's tolerance: what is left as sliding of a foot that sticks adds up over
  // the steps.
  const FeetReport solved = SolveFeet(feet_, 1e-3 * StepTolerance::kContact, &forces_);
  report->sweep_count += solved.sweep_count;
  *change += response * forces_;
}

bool ContactStepper::TryStep(const VectorXd& u, double h, ReplayState* state, StepReport* report) {
  const VectorXd& position = state->knot.position;
  for (Index foot = 0; foot < model_.foot_count(); ++foot) {
    model_.EvaluateFoot(position, foot, false, &kinematics_);
    foot_before_.col(foot) = kinematics_.position;
  }
  model_.DriveForce(position, u, &drive_force_);
  forces_ = state->foot_forces;
  next_ = position + h * state->velocity;
  VectorXd change;
  for (int i = 0; i < kMaxStepIterations; ++i) {
    EvaluateMidpoint(model_, position, next_, h, DerivativeOrder::kSecond, &interval_);
    EvaluateFeet();
    const VectorXd free = state->knot.momentum / h + interval_.left + drive_force_;
    if (i > 0) {
      const double dynamics =
          (free + jacobian_.transpose() * forces_).lpNorm<Eigen::Infinity>() / weight_;
      const double contact = WorstFootResidual(feet_, forces_, motion_);
      if (!(dynamics < 1e100)) {
        return false;
      }
      if (dynamics <= StepTolerance::DynamicsAt(i, h) && contact <= StepTolerance::kContact) {
        report->dynamics_residual = std::max(report->dynamics_residual, dynamics);
        report->contact_residual = std::max(report->contact_residual, contact);
        Book(h, state, report);
        return true;
      }
    }
    SolveLinear(free, &change, report);
    next_ += change;
    ++report->newton_count;
  }
  return false;
}

void ContactStepper::Book(double h, ReplayState* state, StepReport* report) {
  const VectorXd moved = next_ - state->knot.position;
  const VectorXd contact_force = jacobian_.transpose() * forces_;
  // Forces at a knot work on the mean of the displacements before and after it.
  const VectorXd mean = 0.5 * (moved + h * state->velocity);
  report->drive_work += drive_force_.dot(mean);
  report->contact_work += contact_force.dot(mean);
  report->damping_loss += h * model_.DampingPower(state->knot.position + 0.5 * moved, moved / h);
  report->AddFeet(forces_, motion_, weight_, h);
  state->knot.position = next_;
  state->knot.momentum = h * interval_.right;
  state->velocity = moved / h;
  state->foot_forces = forces_;
  state->knot_force = drive_force_ + contact_force;
  state->step = h;
}

absl::Status ContactStepper::Step(const VectorXd& u,
                                  double h,
                                  ReplayState* state,
                                  StepReport* report) {
  return StepInHalves(
      h,
      model_.foot_count(),
      [&](double part) {
        ChangeStep(part, state);
        return TryStep(u, part, state, report);
      },
      report);
}

}  // namespace gaitshelf::solver
