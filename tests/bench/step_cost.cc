#include "tests/bench/step_cost.h"

#include <algorithm>
#include <vector>

#include <ceres/problem.h>

#include "solver/base/status_macros.h"
#include "solver/plan/blocks.h"
#include "solver/plan/knot_system.h"
#include "solver/plan/partial_cholesky.h"
#include "tests/bench/planner_case.h"
#include "tests/bench/processor_time.h"

namespace gaitshelf::bench {
namespace {

using Eigen::Index;

// Calls every cost function of a problem as the planner does.
class AllRows {
 public:
  explicit AllRows(const ceres::Problem& rows) {
    std::vector<ceres::ResidualBlockId> ids;
    rows.GetResidualBlocks(&ids);
    for (const ceres::ResidualBlockId id : ids) {
      Entry& entry = entries_.emplace_back();
      entry.function = rows.GetCostFunctionForResidualBlock(id);
      rows.GetParameterBlocksForResidualBlock(id, &entry.parameters);
      for (const int size : entry.function->parameter_block_sizes()) {
        jacobians_.resize(std::max(jacobians_.size(), entry.parameters.size()));
        residuals_.resize(
            std::max(residuals_.size(), static_cast<size_t>(entry.function->num_residuals())));
        most_ = std::max(most_, residuals_.size() * static_cast<size_t>(size));
      }
    }
    for (std::vector<double>& jacobian : jacobians_) {
      jacobian.resize(most_);
      pointers_.push_back(jacobian.data());
    }
  }

  void Evaluate() {
    for (const Entry& entry : entries_) {
      entry.function->Evaluate(entry.parameters.data(), residuals_.data(), pointers_.data());
    }
  }

 private:
  struct Entry {
    const ceres::CostFunction* function = nullptr;
    std::vector<double*> parameters;
  };
  std::vector<Entry> entries_;
  std::vector<double> residuals_;
  std::vector<std::vector<double>> jacobians_;
  std::vector<double*> pointers_;
  size_t most_ = 0;
};

// A table of the size and with the entries of the unit matrix, which eliminating leaves as it is.
solver::SymmetricTable UnitTable(Index size) {
  solver::SymmetricTable table;
  table.Reset(size);
  for (Index i = 0; i < size; ++i) {
    table.column(i)[i] = 1.0;
  }
  return table;
}

// Factors tables of the sizes that a cycle's controls, coordinates and border have.
double MeasureElimination(const solver::PlanProblem& problem, int times) {
  const Index n = problem.coordinate_count();
  const Index controls = problem.control_count();
  const Index border = 2 * n + 1;
  solver::SymmetricTable own = UnitTable(controls + 3 * n + 1);
  solver::SymmetricTable front = UnitTable(3 * n + border + 1);
  solver::SymmetricTable last = UnitTable(border + 1);
  return LeastSeconds(times, [&] {
    for (int k = 0; k < problem.knot_count; ++k) {
      solver::EliminateLeading(controls, &own);
    }
    for (int k = 0; k + 2 < problem.knot_count; ++k) {
      solver::EliminateLeading(n, &front);
    }
    solver::EliminateLeading(border, &last);
  });
}

}  // namespace

absl::StatusOr<StepCost> MeasureStep(solver::Stage* stage, int times) {
  solver::PlanEvaluation evaluation(&stage->problem, &stage->unknowns);
  stage->unknowns.DeriveDriveFigures(stage->problem);
  const solver::PenaltyState penalty = FirstPenalty(*stage);
  ceres::Problem rows;
  solver::AddPlanBlocks(&evaluation, &penalty, &stage->unknowns, &rows);
  GAITSHELF_ASSIGN_OR_RETURN(solver::KnotSystem system,
                             solver::KnotSystem::Create(stage->problem, rows, &stage->unknowns));
  StepCost cost;
  cost.trial_s = LeastSeconds(times, [&] {
    evaluation.Update(penalty.smoothing, false);
    system.Cost();
  });
  cost.laws_s = LeastSeconds(times, [&] { evaluation.Update(penalty.smoothing, true); });
  AllRows all_rows(rows);
  cost.rows_s = LeastSeconds(times, [&] { all_rows.Evaluate(); });
  cost.elimination_s = MeasureElimination(stage->problem, times);
  bool is_factored = true;
  const double linearise_s = LeastSeconds(
      times, [&] { is_factored = system.Linearise(stage->schedule.damping) && is_factored; });
  if (!is_factored) {
    return absl::InternalError("the normal equations of a seed cannot be factored");
  }
  cost.products_s = std::max(linearise_s - cost.rows_s - cost.elimination_s, 0.0);
  Eigen::VectorXd step;
  Eigen::VectorXd first;
  Eigen::VectorXd second;
  solver::KnotSystem::Directions directions(system.size(), 2);
  cost.directions_s = LeastSeconds(times, [&] {
    system.NewtonStep(&step);
    directions << step, system.gradient();
    system.TimesFactor(directions, &first, &second);
  });
  return cost;
}

}  // namespace gaitshelf::bench
