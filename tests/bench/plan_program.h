// A plan's problem as a nonlinear program: costs to be made small, laws that must hold, bounds.
//
// The rows are the planner's own, evaluated by the planner's own code. Laws are the equations of
// motion and contact at a smoothing; drives and travel have the bounds that the planner's rows
// keep. The planner itself squares all of these into one cost.
#ifndef GAITSHELF_TESTS_BENCH_PLAN_PROGRAM_H_
#define GAITSHELF_TESTS_BENCH_PLAN_PROGRAM_H_

#include <memory>
#include <vector>

#include <Eigen/Core>
#include <ceres/problem.h>

#include "solver/plan/evaluation.h"
#include "solver/plan/penalty.h"
#include "solver/plan/stage.h"
#include "tests/bench/row_pattern.h"

namespace gaitshelf::bench {

// How good a plan is, whoever made it.
struct PlanScore {
  double cost = 0.0;       // half the sum of squares of the soft rows alone
  double violation = 0.0;  // worst of all laws and true limits, scaled as the planner does
};

class PlanProgram {
 public:
  // Begins at the stage's seed. The stage's model must outlive the program.
  explicit PlanProgram(const solver::Stage& stage);

  int unknown_count() const { return static_cast<int>(lower_.size()); }
  const Eigen::VectorXd& lower() const { return lower_; }  // bounds of the unknowns; infinite where
  const Eigen::VectorXd& upper() const { return upper_; }  // there is none
  void set_smoothing(double smoothing);
  double smoothing() const { return smoothing_; }

  Eigen::VectorXd Read() const;
  void Write(const Eigen::VectorXd& values);

  // Bring rows up to date with the unknowns, once for each of them. They return false where a
  // number is not finite or a jacobian has an entry outside its pattern.
  bool Evaluate();
  bool Linearise();
  // Of the last of the two.
  const RowPattern& laws() const { return *laws_; }
  const RowPattern& costs() const { return *costs_; }
  const std::vector<double>& law_entries() const { return law_entries_; }
  const std::vector<double>& cost_entries() const { return cost_entries_; }
  double Cost() const;
  // Of cost + multipliers . laws.
  Eigen::VectorXd Gradient(double cost_factor, const double* multipliers) const;

  // At the unknowns as they are, with the laws at the schedule's last smoothing.
  PlanScore Score();

  const solver::Stage& stage() const { return stage_; }

 private:
  void SetBounds();
  void ShowPoints();

  solver::Stage stage_;
  double smoothing_;
  std::unique_ptr<solver::PlanEvaluation> evaluation_;
  solver::PenaltyState of_laws_;
  solver::PenaltyState of_costs_;
  ceres::Problem law_rows_;
  ceres::Problem cost_rows_;
  std::unique_ptr<RowPattern> laws_;
  std::unique_ptr<RowPattern> costs_;
  std::vector<double> law_entries_;
  std::vector<double> cost_entries_;
  Eigen::VectorXd lower_;
  Eigen::VectorXd upper_;
  bool has_values_ = false;
  bool has_jacobians_ = false;
  bool is_good_ = false;
};

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_PLAN_PROGRAM_H_
