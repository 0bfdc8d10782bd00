// One step of a robot on a surface: the midpoint variational step with unilateral contact and
// Coulomb friction. Nothing of the contact law is smoothed.
#ifndef GAITSHELF_SOLVER_REPLAY_CONTACT_STEP_H_
#define GAITSHELF_SOLVER_REPLAY_CONTACT_STEP_H_

#include <Eigen/Core>

#include "absl/status/status.h"
#include "solver/leg/robot_model.h"
#include "solver/mechanism/midpoint.h"
#include "solver/replay/foot_forces.h"
#include "solver/replay/step_report.h"

namespace gaitshelf::solver {

// Where the robot is, and what the next step starts from. Scaled units.
struct ReplayState {
  KnotState knot;
  Eigen::VectorXd velocity;     // of the last interval
  Eigen::VectorXd foot_forces;  // of the last interval, three a foot
  Eigen::VectorXd knot_force;   // drives and feet together at the last knot, n
  double step = 0.0;            // the step that knot.momentum belongs to
};

// Returns the state at a position with a velocity and no force of drives or feet known yet.
ReplayState StartWithVelocity(const RobotModel& model,
                              const Eigen::VectorXd& position,
                              const Eigen::VectorXd& velocity,
                              double step);

// Returns the state at the end of an interval that led from one position to the next in a step.
ReplayState StartAfterInterval(const RobotModel& model,
                               const Eigen::VectorXd& previous,
                               const Eigen::VectorXd& position,
                               double step);

class ContactStepper {
 public:
  // The model must outlive the stepper.
  explicit ContactStepper(const RobotModel* model);

  // Moves the state by the time h with the drives at u held. Where Newton's method does not
  // converge the step is halved, at most six times over.
  //
  // Errors:
  //   kInternal   no convergence even so; the state is then somewhere inside the step
  absl::Status Step(const Eigen::VectorXd& u, double h, ReplayState* state, StepReport* report);

 private:
  bool TryStep(const Eigen::VectorXd& u, double h, ReplayState* state, StepReport* report);
  // Evaluates all feet at next_: jacobian_ and motion_.
  void EvaluateFeet();
  // Solves the linearised step: new forces_ and the change of next_.
  void SolveLinear(const Eigen::VectorXd& residual, Eigen::VectorXd* change, StepReport* report);
  // Takes a converged step over into state and report.
  void Book(double h, ReplayState* state, StepReport* report);

  const RobotModel& model_;
  MidpointInterval interval_;
  FootKinematics kinematics_;
  FeetProblem feet_;
  Eigen::MatrixXd jacobian_;      // 3F x n
  Eigen::VectorXd motion_;        // 3F
  Eigen::Matrix3Xd foot_before_;  // positions at the start of the step
  Eigen::VectorXd drive_force_;
  Eigen::VectorXd forces_;
  Eigen::VectorXd next_;  // position at the end of the step
  double weight_ = 1.0;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_CONTACT_STEP_H_
