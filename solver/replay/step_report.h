// What happened in one step of a replay, whatever it is that was replayed.
#ifndef GAITSHELF_SOLVER_REPLAY_STEP_REPORT_H_
#define GAITSHELF_SOLVER_REPLAY_STEP_REPORT_H_

#include <functional>

#include <Eigen/Core>

#include "absl/status/status.h"

namespace gaitshelf::solver {

// Limits of the residuals of a step, scaled: forces over the weight, lengths over the unit length.
// Far below the 1e-6 that a plan is held to, far above rounding (1e-16 over the square of the
// smallest step, 1e-3).
struct StepTolerance {
  static constexpr double kDynamics = 1e-9;
  static constexpr double kContact = 1e-9;

  // The limit of the dynamics at an iteration of Newton's method. Positions of about 1 are rounded
  // to 1e-16, which the step divides by its square; only once the iteration has stopped gaining may
  // that count.
  static double DynamicsAt(int iteration, double h);
};

// Most iterations of Newton's method in one step.
inline constexpr int kMaxStepIterations = 25;

// With substeps: sums, or means over time for the forces.
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

  // Adds the feet of a substep of length h.
  //   motion   slip x, slip y, gap of each foot
  //   weight   of the robot
  void AddFeet(const Eigen::VectorXd& forces,
               const Eigen::VectorXd& motion,
               double weight,
               double h);
};

// Takes the momentum at a knot from one step to another. The momentum that the last interval brings
// to the knot lacks half of the knot's own impulse, which grows with the step.
//   knot_force   of drives and feet at the knot
void CarryMomentum(double from_step,
                   double to_step,
                   const Eigen::VectorXd& knot_force,
                   Eigen::VectorXd* momentum);

// Makes one step of length h by a call of try_step, or where that says false two of half the
// length, and so on, at most six times over. Clears the report first and ends it.
//
// Errors:
//   kInternal   try_step fails even so; what was stepped is then somewhere inside the step
absl::Status StepInHalves(double h,
                          Eigen::Index foot_count,
                          const std::function<bool(double h)>& try_step,
                          StepReport* report);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_STEP_REPORT_H_
