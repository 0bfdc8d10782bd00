#include "solver/plan/factor_panel.h"

#include <Eigen/Cholesky>
#include <gtest/gtest.h>

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// A matrix of 9 rows in two panels, 4 and 5 columns, the unknowns numbered backwards.
TEST(FactorPanelTest, SolvesAndMultipliesAsTheWholeFactorDoes) {
  constexpr Index kSize = 9;
  const MatrixXd root = MatrixXd::Random(kSize, kSize);
  const MatrixXd matrix = root * root.transpose() + MatrixXd::Identity(kSize, kSize);
  const MatrixXd lower = matrix.llt().matrixL();
  SymmetricTable table;
  table.Reset(kSize + 1);
  for (Index j = 0; j < kSize; ++j) {
    for (Index i = j; i < kSize; ++i) {
      table.column(j)[i] = matrix(i, j);
    }
    table.column(j)[kSize] = 1.0;
  }
  ASSERT_TRUE(EliminateLeading(kSize, &table));
  FactorPanel first;
  first.Take(4, table);
  FactorPanel second;
  SymmetricTable rest;
  rest.Reset(kSize + 1 - 4);
  for (Index j = 4; j < kSize; ++j) {
    for (Index i = j; i <= kSize; ++i) {
      rest.column(j - 4)[i - 4] = table.column(j)[i];
    }
  }
  second.Take(5, rest);
  for (Index i = 0; i < kSize; ++i) {
    first.unknowns.push_back(kSize - 1 - i);
  }
  second.unknowns.assign(first.unknowns.begin() + 4, first.unknowns.end());
  EXPECT_EQ(first.factor.rows(), kSize + 1);

  const VectorXd right = VectorXd::Random(kSize);
  VectorXd solution = VectorXd::Zero(kSize);
  second.SolveBack(right.tail(5), &solution);
  first.SolveBack(right.head(4), &solution);
  const VectorXd expected = lower.transpose().triangularView<Eigen::Upper>().solve(right);
  EXPECT_LT((solution.reverse() - expected).norm(), 1e-12 * expected.norm());
  VectorXd product(kSize);
  first.TimesFactor(solution, &product);
  second.TimesFactor(solution, &product);
  EXPECT_LT((product.reverse() - right).norm(), 1e-12 * right.norm());
  // The last row is L^-1 of a right side of ones.
  const VectorXd ones = lower.triangularView<Eigen::Lower>().solve(VectorXd::Ones(kSize));
  EXPECT_LT((first.factor.row(kSize).transpose() - ones.head(4)).norm(), 1e-12 * ones.norm());
}

TEST(FactorPanelTest, CountsAnUnknownOfMinusOneAsZero) {
  FactorPanel panel;
  panel.factor = (MatrixXd(4, 1) << 2.0, 3.0, 5.0, 0.0).finished();
  panel.unknowns = {1, -1, 0};
  VectorXd x = VectorXd::Zero(2);
  x[0] = 7.0;
  panel.SolveBack(VectorXd::Constant(1, 41.0), &x);
  // 2 x1 + 5 * 7 = 41.
  EXPECT_DOUBLE_EQ(x[1], 3.0);
  VectorXd product = VectorXd::Zero(2);
  panel.TimesFactor(x, &product);
  EXPECT_DOUBLE_EQ(product[1], 41.0);
}

}  // namespace
}  // namespace gaitshelf::solver
