#include "solver/plan/row_products.h"

namespace gaitshelf::solver {

using Eigen::Index;

namespace {

// A row counts as full when the table is less than so many times as wide as it has entries: adding
// it whole is then cheaper.
constexpr Index kFullShare = 3;

}  // namespace

// Most rows have few entries that are not zero: their products are added one by one. The body's
// equations of motion are full and go to the table together. No sum changes its order by that.
void RowProducts::Add(const std::vector<RowsByArray>& arrays,
                      const std::vector<double>& residuals,
                      SymmetricTable* table) {
  for (size_t row = 0; row < residuals.size(); ++row) {
    CollectEntries(arrays, static_cast<Index>(row), table->size());
    columns_[count_] = table->size() - 1;
    entries_[count_] = residuals[row];
    ++count_;
    if (kFullShare * static_cast<Index>(count_) > table->size()) {
      AppendFullRow(table->stride());
      continue;
    }
    AddFullRows(table);
    for (size_t j = 0; j + 1 < count_; ++j) {
      double* column = table->column(columns_[j]);
      for (size_t i = j; i < count_; ++i) {
        column[columns_[i]] += entries_[i] * entries_[j];
      }
    }
  }
  AddFullRows(table);
}

void RowProducts::CollectEntries(const std::vector<RowsByArray>& arrays, Index row, Index most) {
  columns_.resize(static_cast<size_t>(most));
  entries_.resize(static_cast<size_t>(most));
  Index* columns = columns_.data();
  double* entries = entries_.data();
  size_t count = 0;
  for (const RowsByArray& array : arrays) {
    const double* values = array.jacobian + row * array.size;
    for (Index j = 0; j < array.size; ++j) {
      // Zeros are overwritten by what comes next.
      columns[count] = array.column + j;
      entries[count] = values[j];
      count += values[j] != 0.0 ? 1 : 0;
    }
  }
  count_ = count;
}

void RowProducts::AppendFullRow(Index stride) {
  const auto begin = static_cast<size_t>(full_row_count_ * stride);
  ++full_row_count_;
  full_rows_.resize(begin);
  full_rows_.resize(begin + static_cast<size_t>(stride), 0.0);
  for (size_t i = 0; i < count_; ++i) {
    full_rows_[begin + static_cast<size_t>(columns_[i])] = entries_[i];
  }
}

void RowProducts::AddFullRows(SymmetricTable* table) {
  if (full_row_count_ > 0) {
    AddSquare(full_row_count_, full_rows_, table);
    full_row_count_ = 0;
  }
}

}  // namespace gaitshelf::solver
