// One step of a robot on a surface: the midpoint variational step with unilateral contact and
// Coulomb friction. Nothing of the contact law is smoothed.
#ifndef GAITSHELF_SOLVER_REPLAY_CONTACT_STEP_H_
#define GAITSHELF_SOLVER_REPLAY_CONTACT_STEP_H_

#include <Eigen/Core>

#include "absl/status/status.h"
#include "solver/leg/robot_model.h"
#include "solver/mechanism/midpoint.h"
#include "solver/mechanism/step.h"
#include "solver/replay/foot_forces.h"

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

// What happened in one step. With substeps: sums, or means over time for the forces.
struct StepReport {
  Eigen::VectorXd foot_forces;   // three a foot
  Eigen::Matrix3Xd foot_motion;  // slip x, slip y over the step; gap at its end
  Eigen::VectorXd foot_slip;     // path length of sliding under force, one a foot
  double drive_work = 0.0;
  double contact_work = 0.0;  // at most 0 but for the order of the step
  double damping_loss = 0.0;
  double dynamics_residual = 0.0;  // forces over the weight
  double contact_residual = 0.0;   // lengths
  int newton_count = 0;
  int sweep_count = 0;
  int substep_count = 0;
};

class ContactStepper {
 public:
  // Limits of the residuals of a step, scaled: forces over the weight, lengths over the unit
  // length. Far below the 1e-6 that a plan is held to, far above rounding (1e-16 over the square of
  // the smallest step, 1e-3).
  static constexpr double kDynamicsTolerance = 1e-9;
  static constexpr double kContactTolerance = 1e-9;

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
  absl::Status StepOrHalve(const Eigen::VectorXd& u,
                           double h,
                           int halving,
                           ReplayState* state,
                           StepReport* report);
  // Evaluates all feet at next_: jacobian_ and motion_.
  void EvaluateFeet();
  // Solves the linearised step: new forces_ and the change of next_.
  void SolveLinear(const Eigen::VectorXd& residual, Eigen::VectorXd* change, StepReport* report);
  double ContactResidual() const;
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
