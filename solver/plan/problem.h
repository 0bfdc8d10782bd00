// What one optimisation is about: the model, the knots, the targets and the weights. Plain data,
// scaled units.
//
// Knot k of N holds the coordinates q_k; its controls are the drives' u and each foot's normal
// force, two tangential forces and sliding speed. The force of knot k acts over the interval that
// ends at knot k+1, where it is complementary to the gap: that makes touchdown inelastic and
// causal.
//
// A periodic problem joins knot N-1 to knot 0 moved on by the cycle's motion: the stride, which is
// an unknown, and sidestep and turn, which are given. An open one keeps its first two and last two
// knots as they are, which fixes position and velocity at both ends.
#ifndef GAITSHELF_SOLVER_PLAN_PROBLEM_H_
#define GAITSHELF_SOLVER_PLAN_PROBLEM_H_

#include <optional>

#include <Eigen/Core>

#include "solver/base/planar_motion.h"
#include "solver/leg/robot_model.h"

namespace gaitshelf::solver {

// Factors of the soft terms; every soft row is divided by sqrt(N) besides. Found by trial over the
// demo grid.
struct PlanWeights {
  double effort = 0.03;         // on u
  double force = 1e-3;          // on foot forces: makes indeterminate stances well-posed
  double sliding_speed = 1e-4;  // on the sliding speeds, which no force determines in flight
  double attitude = 0.3;        // on roll, pitch, yaw
  double sideways = 0.3;        // on y
  double height = 0.1;          // on z against the target
  double legs = 0.1;            // on leg coordinates against the target
  double clearance = 2.0;       // on a swinging foot's lack of height
  double load = 3.0;            // on a standing foot's lack of load
  double slip = 2.0;  // on normal force times sliding speed: without it, dragging feet are best
  double acceleration = 0.0;  // on second differences: without it, contact chatters
  double stride = 1.0;        // on the stride against its target
  double apex = 1.0;          // on the height at the apex knot of a hop
  double alternation = 0.0;   // on u less its mean over the cycle, weighed by capacitance
  double peak_drive = 0.0;    // on the bound that all |u| keep
  double start = 1.0;         // pins x of knot 0, which nothing else determines
};

// Sizes by which the contact laws are made dimensionless.
struct ContactScale {
  double gap = 0.1;
  double force = 0.25;
  double speed = 1.0;
};

// A height that the body is to reach at one knot.
struct Apex {
  int knot = 0;
  double height = 0.0;
};

struct PlanProblem {
  const RobotModel* model = nullptr;  // must outlive the problem
  int knot_count = 0;
  double knot_period = 0.0;
  bool is_periodic = true;
  double stride_target = 0.0;
  double sidestep = 0.0;
  double turn = 0.0;
  std::optional<Apex> apex;
  PlanWeights weights;
  ContactScale contact;
  // Penalties of the contact, drive and travel rows over that of the dynamics rows.
  double contact_penalty_ratio = 10.0;
  double limit_penalty_ratio = 1.0;
  // The same of the law that loaded feet do not slide, for a plan of several surfaces; 0 lets them.
  double sticking_penalty_ratio = 0.0;
  // Coefficient of the surface of most friction that the plan is for: what a sliding foot would
  // feel there.
  double greatest_friction = 0.0;
  // Smoothing of the normal law of a foot whose height is fixed, in every round. On the surface it
  // leaves a residual of its square over the force, in standing shares: below 1e-7 down to a tenth
  // of a share.
  double fixed_foot_smoothing = 1e-4;
  // Kept free of the true limits, so that a violation within tolerance stays inside them.
  double drive_margin = 1e-4;
  double travel_margin = 1e-4;
  Eigen::MatrixXd posture_target;    // n x N
  Eigen::MatrixXd clearance_target;  // feet x N, height asked of each foot; 0 where none is
  Eigen::MatrixXd load_target;  // the same of normal forces; empty when none is asked of any foot

  bool forbids_sliding() const { return sticking_penalty_ratio > 0.0; }
  // What one cycle of this stride does.
  PlanarMotion Motion(double stride) const { return {stride, sidestep, turn}; }
  Eigen::Index coordinate_count() const { return model->coordinate_count(); }
  Eigen::Index drive_count() const { return model->drive_count(); }
  Eigen::Index foot_count() const { return model->foot_count(); }
  Eigen::Index control_count() const { return drive_count() + 4 * foot_count(); }
  // Index of foot i's normal force among the controls; tangential x, y and sliding speed follow.
  Eigen::Index foot_control(Eigen::Index foot) const { return drive_count() + 4 * foot; }
  // Knots whose equations of motion must hold: all of a periodic problem, the inner ones of an open
  // one.
  int first_free_knot() const { return is_periodic ? 0 : 1; }
  int end_free_knot() const { return is_periodic ? knot_count : knot_count - 1; }
  bool is_fixed_knot(int k) const { return !is_periodic && (k < 2 || k >= knot_count - 2); }
  int knot_after(int k) const { return (k + 1) % knot_count; }
  int knot_before(int k) const { return (k + knot_count - 1) % knot_count; }
};

// The unknowns of a problem; a column a knot. Ceres owns nothing: it writes into these arrays.
struct PlanUnknowns {
  Eigen::MatrixXd coordinates;  // n x N
  Eigen::MatrixXd controls;     // control_count x N
  double stride = 0.0;
  // What objectives compare the drives with; derived from the controls when a solve begins.
  Eigen::VectorXd mean_drive;  // of each drive over the cycle
  double peak_drive = 0.0;     // bound of all |u|

  void DeriveDriveFigures(const PlanProblem& problem);
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_PLAN_PROBLEM_H_
