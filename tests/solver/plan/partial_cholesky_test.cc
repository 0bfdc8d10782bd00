#include "solver/plan/partial_cholesky.h"

#include <limits>
#include <vector>

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <gtest/gtest.h>

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;

MatrixXd PositiveDefinite(Index size) {
  const MatrixXd root = MatrixXd::Random(size, size);
  return root * root.transpose() + MatrixXd::Identity(size, size);
}

SymmetricTable ToTable(const MatrixXd& matrix) {
  SymmetricTable table;
  table.Reset(matrix.rows());
  for (Index j = 0; j < matrix.cols(); ++j) {
    for (Index i = j; i < matrix.rows(); ++i) {
      table.column(j)[i] = matrix(i, j);
    }
  }
  return table;
}

// Sizes around and between whole tiles.
TEST(PartialCholeskyTest, GivesTheFactorOfEigenAndTheSchurComplementForAnySize) {
  for (const Index size : {1, 2, 5, 8, 13, 17, 31, 72}) {
    for (const Index count : {Index{1}, size / 3, size / 2, size}) {
      const MatrixXd matrix = PositiveDefinite(size);
      SymmetricTable table = ToTable(matrix);
      ASSERT_TRUE(EliminateLeading(count, &table));
      const MatrixXd factor = matrix.llt().matrixL();
      const Index rest = size - count;
      const MatrixXd schur =
          matrix.bottomRightCorner(rest, rest) -
          matrix.bottomLeftCorner(rest, count) *
              matrix.topLeftCorner(count, count).llt().solve(matrix.topRightCorner(count, rest));
      for (Index j = 0; j < size; ++j) {
        for (Index i = j; i < size; ++i) {
          const double expected = j < count ? factor(i, j) : schur(i - count, j - count);
          // Rounding of a few dozen terms.
          EXPECT_NEAR(table.column(j)[i], expected, 1e-10 * static_cast<double>(size))
              << size << " " << count;
        }
      }
    }
  }
}

// To the last digit, whatever registers the machine has.
TEST(PartialCholeskyTest, AddsSquaresAsOneRowAfterTheOtherDoes) {
  constexpr Index kCount = 5;
  for (const Index size : {1, 4, 7, 8, 19, 67}) {
    MatrixXd expected = PositiveDefinite(size);
    SymmetricTable table = ToTable(expected);
    std::vector<double> rows;
    for (Index k = 0; k < kCount; ++k) {
      const Eigen::VectorXd row = Eigen::VectorXd::Random(size);
      rows.insert(rows.end(), row.begin(), row.end());
      rows.resize(static_cast<size_t>((k + 1) * table.stride()), 0.0);
      for (Index j = 0; j < size; ++j) {
        for (Index i = j; i < size; ++i) {
          const double product = row[i] * row[j];
          expected(i, j) += product;
        }
      }
    }
    AddSquare(kCount, rows, &table);
    for (Index j = 0; j < size; ++j) {
      for (Index i = j; i < size; ++i) {
        EXPECT_EQ(table.column(j)[i], expected(i, j)) << size;
      }
    }
  }
}

TEST(PartialCholeskyTest, RefusesMatricesThatAreNotPositiveDefinite) {
  MatrixXd matrix = PositiveDefinite(9);
  matrix(4, 4) = -1.0;
  SymmetricTable indefinite = ToTable(matrix);
  EXPECT_FALSE(EliminateLeading(6, &indefinite));
  matrix(4, 4) = std::numeric_limits<double>::quiet_NaN();
  SymmetricTable undefined = ToTable(matrix);
  EXPECT_FALSE(EliminateLeading(6, &undefined));
  // The bad pivot is not among those that are eliminated, but spoils the rest only.
  SymmetricTable later = ToTable(matrix);
  EXPECT_TRUE(EliminateLeading(3, &later));
}

}  // namespace
}  // namespace gaitshelf::solver
