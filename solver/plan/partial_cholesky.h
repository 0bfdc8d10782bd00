// Eliminates leading unknowns from a small dense symmetric system.
#ifndef GAITSHELF_SOLVER_PLAN_PARTIAL_CHOLESKY_H_
#define GAITSHELF_SOLVER_PLAN_PARTIAL_CHOLESKY_H_

#include <vector>

#include <Eigen/Core>

namespace gaitshelf::solver {

// A symmetric matrix of `size` rows of which the lower triangle counts, column by column. Rows and
// columns are padded with zeros so that the elimination may work on whole tiles.
class SymmetricTable {
 public:
  // All zero.
  void Reset(Eigen::Index size);
  Eigen::Index size() const { return size_; }
  // Distance of two columns in memory.
  Eigen::Index stride() const { return stride_; }
  double* column(Eigen::Index j) { return data_.data() + j * stride_; }
  const double* column(Eigen::Index j) const { return data_.data() + j * stride_; }

 private:
  Eigen::Index size_ = 0;
  Eigen::Index stride_ = 0;
  std::vector<double> data_;
};

// Adds R' R to the lower triangle, with R given row by row: `count` rows of the table's stride,
// zeros behind its size. Every entry is the sum that adding one row after the other gives. Entries
// above the diagonal are left undefined.
void AddSquare(Eigen::Index count, const std::vector<double>& rows, SymmetricTable* table);

// Replaces the first `count` columns of A by those of the Cholesky factor L and the rest of the
// lower triangle by the Schur complement. Entries above the diagonal are left undefined.
//
// Returns false when a pivot is not positive; the table is then undefined.
bool EliminateLeading(Eigen::Index count, SymmetricTable* table);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_PLAN_PARTIAL_CHOLESKY_H_
