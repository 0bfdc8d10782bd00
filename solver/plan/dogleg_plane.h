// The plane in which a dogleg step lies, as a problem of two unknowns for Ceres.
//
// Every step of the dogleg method (Powell 1970; Nocedal and Wright, Numerical Optimization, 2006,
// chapter 4.1; both from memory) is a sum of two directions: steepest descent and the Gauss-Newton
// step. So Ceres, which keeps the trust region and decides on every step, needs no more unknowns
// than the two weights; they mean new directions after every step that it accepts. The two
// directions come from a KnotSystem, which makes use of the plan's structure in ways that Ceres'
// own linear solvers cannot. The steps are those that Ceres takes on the whole problem, up to
// rounding; a test holds that.
#ifndef GAITSHELF_SOLVER_PLAN_DOGLEG_PLANE_H_
#define GAITSHELF_SOLVER_PLAN_DOGLEG_PLANE_H_

#include <functional>

#include <Eigen/Core>
#include <ceres/cost_function.h>
#include <ceres/evaluation_callback.h>
#include <ceres/solver.h>

#include "solver/plan/knot_system.h"

namespace gaitshelf::solver {

class DoglegPlane final : public ceres::EvaluationCallback {
 public:
  // Brings what the system's rows read up to date with the unknowns.
  using Update = std::function<void(bool with_jacobians)>;

  // Steps are damped by `damping` times the system's squared scale, and by more where the normal
  // equations cannot be factored otherwise. Ceres' own dogleg takes 1e-8.
  DoglegPlane(KnotSystem* system, double damping, Update update);

  // Runs Ceres from the unknowns as they are and leaves the best in them. The options' linear
  // solver, scaling and threads are set here.
  void Solve(ceres::Solver::Options options, ceres::Solver::Summary* summary);

  // Called by Ceres.
  void PrepareForEvaluation(bool evaluate_jacobians, bool new_evaluation_point) override;

 private:
  class Residuals;

  void Linearise();

  KnotSystem* system_;
  double damping_;
  Update update_;
  Eigen::Vector2d weights_;  // Ceres' unknowns
  // Where the last evaluation was, and what it found.
  Eigen::Vector2d evaluated_weights_;
  bool has_values_ = false;
  bool has_jacobians_ = false;
  double cost_ = 0.0;
  // The last linearisation: unknowns = origin + directions (weights - origin weights).
  Eigen::Vector2d origin_weights_;
  Eigen::VectorXd origin_;
  KnotSystem::Directions directions_;
  bool is_linearised_ = false;
  Eigen::Matrix2d jacobian_;
  Eigen::Vector2d residuals_;
  double rest_ = 0.0;  // the part of the rows that no step in the plane changes
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_PLAN_DOGLEG_PLANE_H_
