// From rows with their jacobians to normal equations.
#ifndef GAITSHELF_SOLVER_PLAN_ROW_PRODUCTS_H_
#define GAITSHELF_SOLVER_PLAN_ROW_PRODUCTS_H_

#include <vector>

#include <Eigen/Core>

#include "solver/plan/partial_cholesky.h"

namespace gaitshelf::solver {

// The derivatives of some rows by one array of unknowns, row by row.
struct RowsByArray {
  const double* jacobian = nullptr;
  Eigen::Index size = 0;    // of the array
  Eigen::Index column = 0;  // where it begins in the table
};

// Adds [J r]' [J r] of rows to a table whose last column stands for the residuals r and whose
// others for the arrays' unknowns; the last entry of all, r' r, is left undefined.
class RowProducts {
 public:
  // The arrays come in the order of their columns.
  void Add(const std::vector<RowsByArray>& arrays,
           const std::vector<double>& residuals,
           SymmetricTable* table);

 private:
  void CollectEntries(const std::vector<RowsByArray>& arrays, Eigen::Index row, Eigen::Index most);
  void AppendFullRow(Eigen::Index stride);
  void AddFullRows(SymmetricTable* table);

  // A row's entries that are not zero, and where they are: the first `count_`.
  size_t count_ = 0;
  std::vector<Eigen::Index> columns_;
  std::vector<double> entries_;
  // Rows that wait, of the table's stride each.
  Eigen::Index full_row_count_ = 0;
  std::vector<double> full_rows_;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_PLAN_ROW_PRODUCTS_H_
