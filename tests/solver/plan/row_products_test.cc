#include "solver/plan/row_products.h"

#include <gtest/gtest.h>

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using RowMajor = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

// Full and almost empty rows by turns, over two arrays with a gap between their columns.
TEST(RowProductsTest, AddsTheProductsOfFullAndOfEmptyRows) {
  constexpr Index kRows = 7;
  constexpr Index kSize = 12;  // of the table: columns 1 to 4, 6 to 10 and the residuals' 11
  RowMajor first = RowMajor::Random(kRows, 4);
  RowMajor second = RowMajor::Random(kRows, 5);
  for (const Index row : {1, 2, 5}) {
    first.row(row).setZero();
    second.row(row).tail(4).setZero();
  }
  const std::vector<double> residuals = {0.5, -1.0, 2.0, 0.25, 0.0, 3.0, -0.75};
  MatrixXd rows = MatrixXd::Zero(kRows, kSize);
  rows.middleCols(1, 4) = first;
  rows.middleCols(6, 5) = second;
  rows.col(kSize - 1) = Eigen::Map<const VectorXd>(residuals.data(), kRows);
  SymmetricTable table;
  table.Reset(kSize);
  table.column(3)[7] = 10.0;
  MatrixXd expected = rows.transpose() * rows;
  expected(7, 3) += 10.0;

  RowProducts products;
  products.Add({{first.data(), 4, 1}, {second.data(), 5, 6}}, residuals, &table);
  for (Index j = 0; j + 1 < kSize; ++j) {
    for (Index i = j; i < kSize; ++i) {
      // Sums of few products in another order.
      EXPECT_NEAR(table.column(j)[i], expected(i, j), 1e-14) << i << " " << j;
    }
  }
}

}  // namespace
}  // namespace gaitshelf::solver
