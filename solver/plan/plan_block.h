// What all residual blocks of a plan share: their knot, the evaluation and the penalty.
#ifndef GAITSHELF_SOLVER_PLAN_PLAN_BLOCK_H_
#define GAITSHELF_SOLVER_PLAN_PLAN_BLOCK_H_

#include <cmath>
#include <initializer_list>

#include <Eigen/Core>
#include <ceres/cost_function.h>

#include "solver/plan/evaluation.h"
#include "solver/plan/penalty.h"
#include "solver/plan/problem.h"

namespace gaitshelf::solver {

using RowMatrix = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

// Blocks read the shared evaluation; they are added to a Ceres problem, which owns them.
class PlanBlock : public ceres::CostFunction {
 public:
  PlanBlock(const PlanEvaluation* evaluation, const PenaltyState* state, int knot)
      : evaluation_(evaluation), state_(state), knot_(knot) {}

 protected:
  void SetSizes(Eigen::Index rows, std::initializer_list<Eigen::Index> columns) {
    set_num_residuals(static_cast<int>(rows));
    for (const Eigen::Index size : columns) {
      mutable_parameter_block_sizes()->push_back(static_cast<int>(size));
    }
  }
  bool IsWanted(double** jacobians, size_t block) const {
    return jacobians != nullptr && jacobians[block] != nullptr;
  }
  // The jacobian by one parameter block.
  Eigen::Map<RowMatrix> Whole(double** jacobians, size_t block) const {
    return {jacobians[block], num_residuals(), parameter_block_sizes()[block]};
  }
  Eigen::Map<RowMatrix> Zeroed(double** jacobians, size_t block) const {
    Eigen::Map<RowMatrix> map = Whole(jacobians, block);
    map.setZero();
    return map;
  }
  // The same, or a map of no entries when the jacobian is not wanted.
  Eigen::Map<RowMatrix> ZeroedOrEmpty(double** jacobians, size_t block) const {
    return IsWanted(jacobians, block) ? Zeroed(jacobians, block)
                                      : Eigen::Map<RowMatrix>(nullptr, 0, 0);
  }
  Eigen::Map<Eigen::VectorXd> Rows(double* residuals) const { return {residuals, num_residuals()}; }
  const PlanEvaluation& evaluation() const { return *evaluation_; }
  const PenaltyState& state() const { return *state_; }
  int knot() const { return knot_; }
  const PlanProblem& problem() const { return evaluation_->problem(); }
  const RobotModel& model() const { return *problem().model; }
  const PlanUnknowns& unknowns() const { return evaluation_->unknowns(); }
  double soft_scale() const { return 1.0 / std::sqrt(static_cast<double>(problem().knot_count)); }

 private:
  const PlanEvaluation* evaluation_;
  const PenaltyState* state_;
  int knot_;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_PLAN_PLAN_BLOCK_H_
