#include "solver/plan/partial_cholesky.h"

#include <cmath>
#include <cstring>

#include "solver/base/wide_clones.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;

// Four doubles, at any address.
using Lane = double __attribute__((vector_size(32)));
constexpr Index kLaneSize = 4;
// A tile of the Schur complement: two lanes of rows, four columns.
constexpr Index kTileRows = 2 * kLaneSize;
constexpr Index kTileColumns = 4;

// Factors the first `count` columns, down to row `rows`, a multiple of a lane. Four columns are
// subtracted from a later one at a time, in the order of one after the other: what is subtracted
// from is read and written once for them.
GAITSHELF_WIDE_CLONES
bool FactorColumns(Index count, Index rows, Index stride, double* data) {
  for (Index j = 0; j < count; ++j) {
    double* column = data + j * stride;
    Index k = 0;
    for (; k + 4 <= j; k += 4) {
      const double* left[4];
      double factor[4];
      for (Index c = 0; c < 4; ++c) {
        left[c] = data + (k + c) * stride;
        factor[c] = left[c][j];
      }
      double* __restrict own = column;  // no earlier column overlaps it
      for (Index i = j; i < rows; ++i) {
        double entry = own[i];
        entry -= factor[0] * left[0][i];
        entry -= factor[1] * left[1][i];
        entry -= factor[2] * left[2][i];
        entry -= factor[3] * left[3][i];
        own[i] = entry;
      }
    }
    for (; k < j; ++k) {
      const double* left = data + k * stride;
      const double factor = left[j];
      for (Index i = j; i < rows; ++i) {
        column[i] -= factor * left[i];
      }
    }
    // Written so that a NaN fails.
    if (!(column[j] > 0.0)) {
      return false;
    }
    const double pivot = std::sqrt(column[j]);
    const double inverse = 1.0 / pivot;
    for (Index i = j + 1; i < rows; ++i) {
      column[i] *= inverse;
    }
    column[j] = pivot;
  }
  return true;
}

// Subtracts L L' of the first `count` columns from the lower triangle behind them, tile by tile.
GAITSHELF_WIDE_CLONES
void SubtractProduct(Index count, Index size, Index stride, double* data) {
  for (Index j = count; j < size; j += kTileColumns) {
    for (Index i = j; i < size; i += kTileRows) {
      Lane sum[kTileColumns][2] = {};
      for (Index k = 0; k < count; ++k) {
        const double* left = data + k * stride;
        Lane upper;
        Lane lower;
        std::memcpy(&upper, left + i, sizeof(Lane));
        std::memcpy(&lower, left + i + kLaneSize, sizeof(Lane));
        for (Index c = 0; c < kTileColumns; ++c) {
          sum[c][0] += upper * left[j + c];
          sum[c][1] += lower * left[j + c];
        }
      }
      for (Index c = 0; c < kTileColumns; ++c) {
        double* column = data + (j + c) * stride + i;
        Lane upper;
        Lane lower;
        std::memcpy(&upper, column, sizeof(Lane));
        std::memcpy(&lower, column + kLaneSize, sizeof(Lane));
        upper -= sum[c][0];
        lower -= sum[c][1];
        std::memcpy(column, &upper, sizeof(Lane));
        std::memcpy(column + kLaneSize, &lower, sizeof(Lane));
      }
    }
  }
}

// Adds the products of rows to the lower triangle, tile by tile.
GAITSHELF_WIDE_CLONES_UNFUSED
void AddProducts(Index count, Index size, Index stride, const double* rows, double* data) {
  for (Index j = 0; j < size; j += kTileColumns) {
    for (Index i = j; i < size; i += kTileRows) {
      Lane sum[kTileColumns][2];
      for (Index c = 0; c < kTileColumns; ++c) {
        std::memcpy(sum[c], data + (j + c) * stride + i, sizeof(sum[c]));
      }
      for (Index k = 0; k < count; ++k) {
        const double* row = rows + k * stride;
        Lane upper;
        Lane lower;
        std::memcpy(&upper, row + i, sizeof(Lane));
        std::memcpy(&lower, row + i + kLaneSize, sizeof(Lane));
        for (Index c = 0; c < kTileColumns; ++c) {
          sum[c][0] += upper * row[j + c];
          sum[c][1] += lower * row[j + c];
        }
      }
      for (Index c = 0; c < kTileColumns; ++c) {
        std::memcpy(data + (j + c) * stride + i, sum[c], sizeof(sum[c]));
      }
    }
  }
}

}  // namespace

void SymmetricTable::Reset(Index size) {
  size_ = size;
  // The last tile begins in the last row at most.
  stride_ = (size + kTileRows + kLaneSize - 1) / kLaneSize * kLaneSize;
  data_.assign(static_cast<size_t>(stride_ * (size + kTileColumns)), 0.0);
}

void AddSquare(Index count, const std::vector<double>& rows, SymmetricTable* table) {
  AddProducts(count, table->size(), table->stride(), rows.data(), table->column(0));
}

bool EliminateLeading(Index count, SymmetricTable* table) {
  if (count == 0) {
    return true;
  }
  const Index rows = (table->size() + kLaneSize - 1) / kLaneSize * kLaneSize;
  double* data = table->column(0);
  if (!FactorColumns(count, rows, table->stride(), data)) {
    return false;
  }
  SubtractProduct(count, table->size(), table->stride(), data);
  return true;
}

}  // namespace gaitshelf::solver
