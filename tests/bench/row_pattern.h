// Rows of a plan as one vector with a sparse jacobian whose pattern is fixed.
#ifndef GAITSHELF_TESTS_BENCH_ROW_PATTERN_H_
#define GAITSHELF_TESTS_BENCH_ROW_PATTERN_H_

#include <vector>

#include <ceres/cost_function.h>
#include <ceres/problem.h>

namespace gaitshelf::bench {

// Which unknown an array's first entry is.
struct UnknownArray {
  double* values = nullptr;
  int first = 0;
};

// One entry of a sparse matrix.
struct Place {
  int row = 0;
  int column = 0;

  bool operator==(const Place&) const = default;
  auto operator<=>(const Place&) const = default;
};

// The pattern is what was not zero at any of the points that it has been shown: blocks are dense
// and mostly zero, and a rival that factors them is to have no more entries than there are.
class RowPattern {
 public:
  // Every array of the rows must be among the unknowns. Both must outlive the pattern.
  RowPattern(const ceres::Problem& rows, const std::vector<UnknownArray>& unknowns);

  // Adds what is not zero at the unknowns as they are; the rows' evaluation must be up to date.
  void Show();
  // Ends showing.
  void Fix();

  int row_count() const { return static_cast<int>(residuals_.size()); }
  const std::vector<Place>& places() const { return places_; }

  // Evaluate at the unknowns as they are; the second fills residuals and the jacobian's entries in
  // the order of the places, and returns false when one that is not zero is outside the pattern.
  const std::vector<double>& Residuals();
  bool Linearise(std::vector<double>* entries);
  // Of the last of the two.
  const std::vector<double>& residuals() const { return residuals_; }

 private:
  struct Block {
    int first_column = 0;
    int columns = 0;
    std::vector<double> jacobian;  // row by row
    std::vector<int> place;        // of each entry of the jacobian; -1 for none
  };
  struct Rows {
    const ceres::CostFunction* function = nullptr;
    std::vector<double*> parameters;
    int first_row = 0;
    std::vector<Block> blocks;
    std::vector<double*> pointers;  // to the blocks' jacobians
  };

  void Evaluate(bool with_jacobians);

  std::vector<Rows> rows_;
  std::vector<double> residuals_;
  std::vector<Place> places_;
};

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_ROW_PATTERN_H_
