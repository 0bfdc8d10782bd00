#include "tests/bench/row_pattern.h"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include <glog/logging.h>

namespace gaitshelf::bench {
namespace {

constexpr int kNone = -1;
constexpr int kSeen = 0;
// Entries up to this are rounding of what is zero; those that count are about 1.
constexpr double kRounding = 1e-12;

}  // namespace

RowPattern::RowPattern(const ceres::Problem& rows, const std::vector<UnknownArray>& unknowns) {
  std::vector<ceres::ResidualBlockId> ids;
  rows.GetResidualBlocks(&ids);
  int row_count = 0;
  for (const ceres::ResidualBlockId id : ids) {
    Rows& entry = rows_.emplace_back();
    entry.function = rows.GetCostFunctionForResidualBlock(id);
    rows.GetParameterBlocksForResidualBlock(id, &entry.parameters);
    entry.first_row = row_count;
    row_count += entry.function->num_residuals();
    for (double* array : entry.parameters) {
      const auto is_it = [array](const UnknownArray& unknown) { return unknown.values == array; };
      const auto unknown = std::find_if(unknowns.begin(), unknowns.end(), is_it);
      CHECK(unknown != unknowns.end()) << "an array of the rows is not among the unknowns";
      Block& block = entry.blocks.emplace_back();
      block.first_column = unknown->first;
      block.columns = rows.ParameterBlockSize(array);
      const auto size = static_cast<size_t>(block.columns * entry.function->num_residuals());
      block.jacobian.resize(size);
      block.place.assign(size, kNone);
    }
    for (Block& block : entry.blocks) {
      entry.pointers.push_back(block.jacobian.data());
    }
  }
  residuals_.resize(static_cast<size_t>(row_count));
}

void RowPattern::Evaluate(bool with_jacobians) {
  for (Rows& rows : rows_) {
    rows.function->Evaluate(rows.parameters.data(),
                            residuals_.data() + rows.first_row,
                            with_jacobians ? rows.pointers.data() : nullptr);
  }
}

void RowPattern::Show() {
  Evaluate(true);
  for (Rows& rows : rows_) {
    for (Block& block : rows.blocks) {
      for (size_t i = 0; i < block.jacobian.size(); ++i) {
        if (std::abs(block.jacobian[i]) > kRounding) {
          block.place[i] = kSeen;
        }
      }
    }
  }
}

void RowPattern::Fix() {
  for (Rows& rows : rows_) {
    for (Block& block : rows.blocks) {
      for (size_t i = 0; i < block.place.size(); ++i) {
        if (block.place[i] == kNone) {
          continue;
        }
        block.place[i] = static_cast<int>(places_.size());
        const int at = static_cast<int>(i);
        places_.push_back(
            {rows.first_row + at / block.columns, block.first_column + at % block.columns});
      }
    }
  }
}

const std::vector<double>& RowPattern::Residuals() {
  Evaluate(false);
  return residuals_;
}

bool RowPattern::Linearise(std::vector<double>* entries) {
  Evaluate(true);
  entries->resize(places_.size());
  bool is_inside = true;
  for (const Rows& rows : rows_) {
    for (const Block& block : rows.blocks) {
      for (size_t i = 0; i < block.place.size(); ++i) {
        if (block.place[i] != kNone) {
          (*entries)[static_cast<size_t>(block.place[i])] = block.jacobian[i];
        } else if (std::abs(block.jacobian[i]) > kRounding) {
          std::fprintf(stderr,
                       "entry %zu of a block at row %d, column %d is %g: outside the pattern\n",
                       i,
                       rows.first_row,
                       block.first_column,
                       block.jacobian[i]);
          is_inside = false;
        }
      }
    }
  }
  return is_inside;
}

}  // namespace gaitshelf::bench
