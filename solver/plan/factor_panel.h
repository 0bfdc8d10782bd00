// Some columns of a sparse Cholesky factor L, kept as a dense matrix.
#ifndef GAITSHELF_SOLVER_PLAN_FACTOR_PANEL_H_
#define GAITSHELF_SOLVER_PLAN_FACTOR_PANEL_H_

#include <vector>

#include <Eigen/Core>

#include "solver/plan/partial_cholesky.h"

namespace gaitshelf::solver {

// The columns belong to the first unknowns of the list, the rows to all of them; -1 stands for a
// row of zeros. One more row holds the same columns' part of L^-1 b, with b a right side.
struct FactorPanel {
  Eigen::MatrixXd factor;
  std::vector<Eigen::Index> unknowns;

  // Copies the first `count` columns of a table.
  void Take(Eigen::Index count, const SymmetricTable& table);
  // Solves the columns' rows of L' x = right for their own unknowns; the others must be known.
  void SolveBack(const Eigen::VectorXd& right, Eigen::VectorXd* x) const;
  // Fills the columns' rows of L' x.
  void TimesFactor(const Eigen::Ref<const Eigen::VectorXd>& x, Eigen::VectorXd* product) const;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_PLAN_FACTOR_PANEL_H_
