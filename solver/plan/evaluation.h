// Evaluates the laws of a plan at the present unknowns, once for all residual blocks that read
// them.
#ifndef GAITSHELF_SOLVER_PLAN_EVALUATION_H_
#define GAITSHELF_SOLVER_PLAN_EVALUATION_H_

#include <vector>

#include <Eigen/Core>

#include "solver/contact/complementarity.h"
#include "solver/mechanism/midpoint.h"
#include "solver/plan/problem.h"

namespace gaitshelf::solver {

// Largest violation of each kind of law, scaled units.
struct PlanViolation {
  double dynamics = 0.0;
  double contact = 0.0;
  double drive = 0.0;
  double travel = 0.0;
  double sliding =
      0.0;  // where sliding is forbidden: power of friction of the greatest coefficient

  double Worst() const;
};

class PlanEvaluation {
 public:
  // Both must outlive the evaluation.
  PlanEvaluation(const PlanProblem* problem, const PlanUnknowns* unknowns);

  // Brings everything below up to date with the unknowns. smoothing is the eps of the contact laws.
  void Update(double smoothing, bool with_jacobians);

  // Interval from knot k to the next one. Where the cycle closes with a turn its right end is seen
  // from knot 0: forces in knot 0's axes, derivatives by knot 0's own coordinates.
  const MidpointInterval& interval(int k) const { return intervals_[static_cast<size_t>(k)]; }
  // Foot i at knot k.
  const FootKinematics& foot(int k, Eigen::Index i) const {
    return feet_[static_cast<size_t>(k * problem_->foot_count() + i)];
  }
  // Foot i at the end of the interval from knot k; the jacobian is by the coordinates of the knot
  // after k.
  const FootKinematics& end_foot(int k, Eigen::Index i) const {
    return IsTurnedEnd(k) ? turned_feet_[static_cast<size_t>(i)] : foot(problem_->knot_after(k), i);
  }
  // The jacobian of the same foot that carries its force into the equations of motion of knot k.
  const Eigen::Matrix3Xd& force_jacobian(int k, Eigen::Index i) const {
    return IsTurnedEnd(k) ? turned_force_jacobians_[static_cast<size_t>(i)]
                          : foot(problem_->knot_after(k), i).jacobian;
  }
  // True where the cycle closes with a turn.
  bool IsTurnedEnd(int k) const {
    return problem_->turn != 0.0 && problem_->is_periodic && k == problem_->knot_count - 1;
  }
  // Turns the x and y of each column by the turn, or back by it.
  void Turn(double direction, Eigen::Ref<Eigen::MatrixXd> columns) const;
  // Way of the cycle's end per stride, x and y in knot 0's axes.
  Eigen::Vector2d StrideDirection() const;
  // Normal and friction laws of the force of knot k on foot i.
  const ScalarComplementarity& normal_law(int k, Eigen::Index i) const {
    return normal_laws_[static_cast<size_t>(k * problem_->foot_count() + i)];
  }
  const ConeComplementarity& friction_law(int k, Eigen::Index i) const {
    return friction_laws_[static_cast<size_t>(k * problem_->foot_count() + i)];
  }
  // Residual of the equations of motion at each knot, n x N, in units of the robot's weight.
  const Eigen::MatrixXd& dynamics() const { return dynamics_; }
  // Residuals of the contact laws, 4 a foot, x N.
  const Eigen::MatrixXd& contact() const { return contact_; }
  // Tangential velocity of foot i over the interval from knot k.
  Eigen::Vector2d SlidingVelocity(int k, Eigen::Index i) const;
  // Force of knot k on foot i, surface frame.
  Eigen::Vector3d FootForce(int k, Eigen::Index i) const;
  PlanViolation Violation() const;

  const PlanProblem& problem() const { return *problem_; }
  const PlanUnknowns& unknowns() const { return *unknowns_; }

 private:
  void UpdateFeet(bool with_jacobians);
  void UpdateIntervals(bool with_jacobians);
  void TurnFeet();
  void TurnInterval(bool with_jacobians, MidpointInterval* interval) const;
  void UpdateContact(double smoothing);
  void UpdateDynamics();

  const PlanProblem* problem_;
  const PlanUnknowns* unknowns_;
  std::vector<MidpointInterval> intervals_;
  std::vector<FootKinematics> feet_;
  std::vector<FootKinematics> turned_feet_;  // of knot 0, moved on by a cycle that turns
  std::vector<Eigen::Matrix3Xd> turned_force_jacobians_;
  std::vector<ScalarComplementarity> normal_laws_;
  std::vector<ConeComplementarity> friction_laws_;
  Eigen::MatrixXd dynamics_;
  Eigen::MatrixXd contact_;
  Eigen::VectorXd drive_force_;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_PLAN_EVALUATION_H_
