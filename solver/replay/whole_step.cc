#include "solver/replay/whole_step.h"

#include <algorithm>

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::Vector3d;
using Eigen::VectorXd;

// Iterations on one matrix. It leaves out some 1e-3 of itself, so that three of them do.
constexpr int kIterationsPerMatrix = 6;

// Adds the force of the loops at the start of the step.
void AddLoopForce(const WholeRobot& robot,
                  const std::vector<MatrixXd>& loops,
                  const VectorXd& loop_forces,
                  VectorXd* force) {
  Index row = 0;
  for (size_t i = 0; i < loops.size(); ++i) {
    const Index count = loops[i].rows();
    force->segment(robot.legs()[i].first, loops[i].cols()).noalias() +=
        loops[i].transpose() * loop_forces.segment(row, count);
    row += count;
  }
}

// Loop forces need no such care: what is missing of them points where the loop forces of the next
// step point and is taken up by these.
void ChangeStep(double h, WholeState* state) {
  CarryMomentum(state->step, h, state->knot_force, &state->momentum);
  state->step = h;
}

}  // namespace

WholeState StartWhole(const WholeRobot& robot,
                      const VectorXd& position,
                      const VectorXd& velocity,
                      double step) {
  WholePlace place;
  WholeTerms terms;
  robot.EvaluatePlace(position, &place);
  robot.EvaluateTerms(place, position, velocity, &terms);
  WholeState state;
  state.position = position;
  state.velocity = velocity;
  state.momentum = terms.momentum;
  state.foot_forces = VectorXd::Zero(3 * robot.foot_count());
  state.knot_force = VectorXd::Zero(robot.coordinate_count());
  state.loop_forces = VectorXd::Zero(robot.loop_equation_count());
  state.step = step;
  return state;
}

WholeState StartWholeAfterInterval(const WholeRobot& robot,
                                   const VectorXd& previous,
                                   const VectorXd& position,
                                   double step) {
  const VectorXd velocity = (position - previous) / step;
  const VectorXd middle = 0.5 * (previous + position);
  WholePlace place;
  WholeTerms terms;
  robot.EvaluatePlace(middle, &place);
  robot.EvaluateTerms(place, middle, velocity, &terms);
  WholeState state = StartWhole(robot, position, velocity, step);
  state.momentum = terms.momentum + 0.5 * step * terms.force;
  state.last_step = step;
  return state;
}

WholeStepper::WholeStepper(const WholeRobot* robot, MechanismLoads* loads)
    : robot_(*robot), loads_(loads) {
  const Index n = robot_.coordinate_count();
  const Index feet = robot_.foot_count();
  jacobian_.setZero(3 * feet, n);
  motion_.setZero(3 * feet);
  foot_before_.setZero(3, feet);
  response_.setZero(n + robot_.loop_equation_count(), 3 * feet);
  feet_.friction = robot_.friction();
  // In a frame that falls with the robot there is no weight; forces are then measured as they are.
  const double weight = robot_.total_mass() * robot_.gravity().norm();
  weight_ = weight > 0.0 ? weight : 1.0;
}

void WholeStepper::Prepare(const VectorXd& u, double h, const WholeState& state) {
  robot_.EvaluatePlace(state.position, &start_);
  robot_.EvaluateLoops(start_, &loop_residual_, &loops_start_);
  Vector3d position;
  for (Index foot = 0; foot < robot_.foot_count(); ++foot) {
    robot_.EvaluateFoot(start_, foot, &position, jacobian_.middleRows<3>(3 * foot));
    foot_before_.col(foot) = position;
  }
  robot_.DriveForce(start_, u, &drive_force_);
  forces_ = state.foot_forces;
  loop_forces_ = state.loop_forces;
  next_ = state.position + h * state.velocity;
}

void WholeStepper::EvaluateEnd(double h, const WholeState& state) {
  middle_position_ = 0.5 * (state.position + next_);
  middle_velocity_ = (next_ - state.position) / h;
  robot_.EvaluatePlace(middle_position_, &middle_);
  robot_.EvaluateTerms(middle_, middle_position_, middle_velocity_, &terms_);
  free_ = (state.momentum - terms_.momentum) / h + 0.5 * terms_.force + drive_force_;
  AddLoopForce(robot_, loops_start_, loop_forces_, &free_);

  robot_.EvaluatePlace(next_, &end_);
  robot_.EvaluateLoops(end_, &loop_residual_, &loops_end_);
  Vector3d position;
  for (Index foot = 0; foot < robot_.foot_count(); ++foot) {
    robot_.EvaluateFoot(end_, foot, &position, jacobian_.middleRows<3>(3 * foot));
    motion_.segment<2>(3 * foot) = (position - foot_before_.col(foot)).head<2>();
    motion_[3 * foot + 2] = position[2];
  }
}

void WholeStepper::Refresh(double h) {
  robot_.EvaluateImpedance(middle_, middle_position_, h, system_.mutable_blocks());
  std::vector<ArrowLeg>& arrow_legs = system_.mutable_blocks()->legs;
  for (size_t i = 0; i < arrow_legs.size(); ++i) {
    arrow_legs[i].loops_start = loops_start_[i];
    arrow_legs[i].loops_end = loops_end_[i];
  }
  system_.Factorise();
  const auto legs = static_cast<Index>(arrow_legs.size());
  for (Index foot = 0; foot < robot_.foot_count(); ++foot) {
    system_.Respond(jacobian_.middleRows<3>(3 * foot),
                    foot < legs ? foot : -1,
                    response_.middleCols<3>(3 * foot));
  }
  feet_.mobility.noalias() = jacobian_ * response_.topRows(robot_.coordinate_count());
}

void WholeStepper::Improve(StepReport* report) {
  const Index n = robot_.coordinate_count();
  VectorXd right(n + loop_residual_.size());
  right << free_, -loop_residual_;
  right.head(n).noalias() += jacobian_.transpose() * forces_;
  VectorXd change = system_.Solve(right);
  if (forces_.size() > 0) {
    const VectorXd before = forces_;
    feet_.free = motion_ + jacobian_ * change.head(n) - feet_.mobility * before;
    // Aims far below the step's tolerance: what is left as sliding of a foot that sticks adds up
    // over the steps.
    report->sweep_count += SolveFeet(feet_, 1e-3 * StepTolerance::kContact, &forces_).sweep_count;
    change.noalias() += response_ * (forces_ - before);
  }
  next_ += change.head(n);
  loop_forces_ += change.tail(loop_forces_.size());
  ++report->newton_count;
}

bool WholeStepper::TryStep(const VectorXd& u, double h, WholeState* state, StepReport* report) {
  ChangeStep(h, state);
  Prepare(u, h, *state);
  for (int i = 0; i < kMaxStepIterations; ++i) {
    EvaluateEnd(h, *state);
    if (i > 0) {
      const double dynamics =
          (free_ + jacobian_.transpose() * forces_).lpNorm<Eigen::Infinity>() / weight_;
      const double contact = WorstFootResidual(feet_, forces_, motion_);
      const double loops = loop_residual_.lpNorm<Eigen::Infinity>();
      if (!(dynamics < 1e100)) {
        return false;
      }
      if (dynamics <= StepTolerance::DynamicsAt(i, h) && contact <= StepTolerance::kContact &&
          loops <= kLoopTolerance) {
        report->dynamics_residual = std::max(report->dynamics_residual, dynamics);
        report->contact_residual = std::max(report->contact_residual, contact);
        Book(h, state, report);
        return true;
      }
    }
    if (i % kIterationsPerMatrix == 0) {
      Refresh(h);
    }
    Improve(report);
  }
  return false;
}

void WholeStepper::Book(double h, WholeState* state, StepReport* report) {
  const VectorXd moved = next_ - state->position;
  const VectorXd contact_force = jacobian_.transpose() * forces_;
  // Forces at a knot work on the mean of the displacements before and after it.
  const VectorXd mean = 0.5 * (moved + h * state->velocity);
  report->drive_work += drive_force_.dot(mean);
  report->contact_work += contact_force.dot(mean);
  report->damping_loss += h * robot_.DampingPower(middle_velocity_);
  report->AddFeet(forces_, motion_, weight_, h);
  if (loads_ != nullptr) {
    // The impulse h * loop_forces_ stands for half of the last interval and half of this one.
    const double time = state->last_step > 0.0 ? 0.5 * (state->last_step + h) : h;
    loads_->Record(next_, h / time * loop_forces_, loop_residual_);
  }
  state->position = next_;
  state->velocity = moved / h;
  state->momentum = terms_.momentum + 0.5 * h * terms_.force;
  state->foot_forces = forces_;
  state->loop_forces = loop_forces_;
  state->knot_force = drive_force_ + contact_force;
  state->last_step = h;
}

absl::Status WholeStepper::Step(const VectorXd& u,
                                double h,
                                WholeState* state,
                                StepReport* report) {
  return StepInHalves(
      h, robot_.foot_count(), [&](double part) { return TryStep(u, part, state, report); }, report);
}

}  // namespace gaitshelf::solver
