// One step of the whole mechanism on a surface: the midpoint variational step with loops closed at
// its end, unilateral contact and Coulomb friction.
//
// Loop forces act along the loops' directions at the knot where the step starts and make the loops
// close at the knot where it ends; so the step is variational and keeps its second order (the
// scheme known for constrained systems as SHAKE). The residual is exact; the matrix of Newton's
// method leaves out what is small with the step and is made once a step.
#ifndef GAITSHELF_SOLVER_REPLAY_WHOLE_STEP_H_
#define GAITSHELF_SOLVER_REPLAY_WHOLE_STEP_H_

#include <vector>

#include <Eigen/Core>

#include "absl/status/status.h"
#include "solver/replay/arrow_system.h"
#include "solver/replay/foot_forces.h"
#include "solver/replay/mechanism_loads.h"
#include "solver/replay/step_report.h"
#include "solver/replay/whole_robot.h"

namespace gaitshelf::solver {

// Where the mechanism is, and what the next step starts from. Scaled units.
struct WholeState {
  Eigen::VectorXd position;
  Eigen::VectorXd velocity;     // of the last interval
  Eigen::VectorXd momentum;     // that the last interval brings to the knot
  Eigen::VectorXd foot_forces;  // of the last interval, three a foot
  Eigen::VectorXd knot_force;   // drives and feet together at the last knot, n
  Eigen::VectorXd loop_forces;  // multipliers at the last knot, two a loop
  double step = 0.0;            // the step that momentum belongs to
  double last_step = 0.0;       // length of the last interval; 0 at the very start
};

// Returns the state at a position, loops closed, with a velocity that keeps them closed and no
// force of drives or feet known yet.
WholeState StartWhole(const WholeRobot& robot,
                      const Eigen::VectorXd& position,
                      const Eigen::VectorXd& velocity,
                      double step);

// Returns the state at the end of an interval that led from one position to the next in a step.
WholeState StartWholeAfterInterval(const WholeRobot& robot,
                                   const Eigen::VectorXd& previous,
                                   const Eigen::VectorXd& position,
                                   double step);

class WholeStepper {
 public:
  // Limit of the loop equations at the end of a step, lengths over the unit length.
  static constexpr double kLoopTolerance = 1e-10;

  // The robot must outlive the stepper, and so must the loads, which may be absent.
  WholeStepper(const WholeRobot* robot, MechanismLoads* loads);

  // Moves the state by the time h with the drives at u held, in halves where that fails.
  //
  // Errors:
  //   kInternal   no convergence even so; the state is then somewhere inside the step
  absl::Status Step(const Eigen::VectorXd& u, double h, WholeState* state, StepReport* report);

 private:
  bool TryStep(const Eigen::VectorXd& u, double h, WholeState* state, StepReport* report);
  // Everything at the start of the step that does not change with its end.
  void Prepare(const Eigen::VectorXd& u, double h, const WholeState& state);
  // Forces without those of the feet, loops and feet for the end at next_.
  void EvaluateEnd(double h, const WholeState& state);
  // Makes the matrix of Newton's method, and how the feet answer to their forces.
  void Refresh(double h);
  void Improve(StepReport* report);
  void Book(double h, WholeState* state, StepReport* report);

  const WholeRobot& robot_;
  MechanismLoads* loads_;
  double weight_ = 1.0;
  // Of the start.
  WholePlace start_;
  std::vector<Eigen::MatrixXd> loops_start_;
  Eigen::Matrix3Xd foot_before_;
  Eigen::VectorXd drive_force_;
  // Of the middle and the end.
  WholePlace middle_, end_;
  WholeTerms terms_;
  Eigen::VectorXd middle_position_, middle_velocity_;
  Eigen::VectorXd free_;  // force that is left over, but for the feet
  Eigen::VectorXd loop_residual_;
  std::vector<Eigen::MatrixXd> loops_end_;
  Eigen::MatrixXd jacobian_;  // of the feet, 3F x n
  Eigen::VectorXd motion_;    // of the feet, 3F
  ArrowSystem system_;
  Eigen::MatrixXd response_;  // of coordinates and loop forces to foot forces
  FeetProblem feet_;
  // Unknowns.
  Eigen::VectorXd next_;
  Eigen::VectorXd forces_;
  Eigen::VectorXd loop_forces_;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_WHOLE_STEP_H_
