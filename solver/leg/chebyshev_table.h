// A leg's functions as tensor Chebyshev polynomials of two variables in -1 to 1.
#ifndef GAITSHELF_SOLVER_LEG_CHEBYSHEV_TABLE_H_
#define GAITSHELF_SOLVER_LEG_CHEBYSHEV_TABLE_H_

#include <array>
#include <cstdint>
#include <vector>

#include <Eigen/Core>

#include "absl/types/span.h"
#include "solver/leg/leg_model.h"

namespace gaitshelf::solver {

// Coefficients of all functions, from their values at Gauss-Chebyshev nodes.
class ChebyshevFit {
 public:
  static constexpr int kNodeCount = 19;  // in each variable

  // Node k of each variable, k = 0 to kNodeCount - 1, from 1 down to -1.
  static double Node(int k);

  // Takes the values at (Node(i), Node(j)) at index i * kNodeCount + j.
  explicit ChebyshevFit(const std::vector<LegValues>& values);

  const LegValues& coefficient(int i, int j) const {
    return coefficients_[static_cast<size_t>(i * kNodeCount + j)];
  }
  // Returns the coefficients up to a degree n in each variable: (i, j) of function f at
  // f (n + 1)^2 + i (n + 1) + j. The least ones of a function are 0 instead, as many as together
  // stay within what it `may_lose`, in its unit: they are the most part, and what is 0 costs
  // nothing later.
  std::vector<double> Coefficients(int degree, const LegValues& may_lose) const;
  // Bounds what polynomials of a degree leave out of a function, as far as the nodes show it.
  LegValues Tail(int degree) const;

 private:
  std::vector<LegValues> coefficients_;
};

// The polynomials up to one degree in each variable, laid out for evaluation.
class ChebyshevTable {
 public:
  static constexpr int kMostDegree = 14;

  ChebyshevTable() = default;
  // Takes coefficients as ChebyshevFit::Coefficients gives them, to be divided by the unit of their
  // function; degree is at most kMostDegree.
  ChebyshevTable(absl::Span<const double> coefficients, const LegValues& units, int degree);

  int degree() const { return degree_; }

  // Evaluates values and derivatives up to an order at t; the derivatives are by variables of which
  // t changes by `rate`. Second derivatives that are not asked for are set to 0. Outside -1 to 1
  // the polynomials go on, further out as parabolas, with continuous second derivatives.
  void Evaluate(const Eigen::Vector2d& t,
                const Eigen::Vector2d& rate,
                DerivativeOrder order,
                LegEvaluation* evaluation) const;
  // Fills the entries of foot and travel at least; the others are left alone or filled.
  void EvaluateFootAndTravel(const Eigen::Vector2d& t,
                             const Eigen::Vector2d& rate,
                             DerivativeOrder order,
                             LegEvaluation* evaluation) const;

 private:
  // Four doubles: one register of a wide machine, two of any other.
  using Lane = double __attribute__((vector_size(32)));
  struct Basis;

  // Functions are worked on four at a time.
  static constexpr int kBlockSize = 4;
  static constexpr int kBlockCount = (LegFunction::kCount + kBlockSize - 1) / kBlockSize;

  // The coefficients of one block.
  struct Block {
    const double* coefficients = nullptr;
    size_t stride = 0;                    // in a row, of functions by four
    size_t row_count = 0;                 // from the first to the last row that is not all 0
    const std::uint8_t* sizes = nullptr;  // of each row, to its last entry that is not 0
  };

  [[nodiscard]] Block BlockAt(int number) const;
  // Adds rows i to i + kRows - 1 of one block's coefficients to the sums below.
  template <size_t kOrders, size_t kRows>
  static void SumRows(const Block& block, const Basis& x, const Basis& y, size_t i, Lane* sum);
  // Adds up one block: value, first derivatives (2) and, of kOrders 3, second ones (3).
  template <size_t kOrders>
  static void SumBlock(const Block& block, const Basis& x, const Basis& y, Lane* sum);
  void FindSizes();
  void EvaluateBlocks(const Eigen::Vector2d& t,
                      const Eigen::Vector2d& rate,
                      DerivativeOrder derivatives,
                      int first_block,
                      int end_block,
                      LegEvaluation* evaluation) const;

  int degree_ = 0;
  // Coefficients (i, j) of block b at 4 ((b (n + 1) + i) (n + 1) + j).
  std::vector<double> coefficients_;
  std::array<std::uint8_t, kBlockCount> row_counts_ = {};
  std::vector<std::uint8_t> row_sizes_;  // row i of block b at b (n + 1) + i
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_LEG_CHEBYSHEV_TABLE_H_
