#include "tests/bench/plan_hessian.h"

#include <algorithm>

namespace gaitshelf::bench {
namespace {

using Eigen::VectorXd;

// Indices of the entries of each row.
std::vector<std::vector<size_t>> EntriesByRow(const RowPattern& rows) {
  std::vector<std::vector<size_t>> by_row(static_cast<size_t>(rows.row_count()));
  for (size_t i = 0; i < rows.places().size(); ++i) {
    by_row[static_cast<size_t>(rows.places()[i].row)].push_back(i);
  }
  return by_row;
}

// Adds the places of all pairs of columns that a row has in common.
void AddPairs(const RowPattern& rows, std::vector<Place>* places) {
  for (const std::vector<size_t>& entries : EntriesByRow(rows)) {
    for (const size_t a : entries) {
      for (const size_t b : entries) {
        if (rows.places()[a].column >= rows.places()[b].column) {
          places->push_back({rows.places()[a].column, rows.places()[b].column});
        }
      }
    }
  }
}

void AddDiagonal(int size, std::vector<Place>* places) {
  for (int i = 0; i < size; ++i) {
    places->push_back({i, i});
  }
}

void SortUnique(std::vector<Place>* places) {
  std::sort(places->begin(), places->end());
  places->erase(std::unique(places->begin(), places->end()), places->end());
}

size_t IndexOf(const std::vector<Place>& places, const Place& place) {
  return static_cast<size_t>(std::lower_bound(places.begin(), places.end(), place) -
                             places.begin());
}

}  // namespace

GaussNewtonHessian::GaussNewtonHessian(const PlanProgram& program, double proximal)
    : proximal_(proximal) {
  AddPairs(program.costs(), &places_);
  AddDiagonal(program.unknown_count(), &places_);
  SortUnique(&places_);
  const std::vector<Place>& of_jacobian = program.costs().places();
  for (const std::vector<size_t>& entries : EntriesByRow(program.costs())) {
    for (const size_t a : entries) {
      for (const size_t b : entries) {
        if (of_jacobian[a].column >= of_jacobian[b].column) {
          products_.push_back(
              {a, b, IndexOf(places_, {of_jacobian[a].column, of_jacobian[b].column})});
        }
      }
    }
  }
  for (int i = 0; i < program.unknown_count(); ++i) {
    diagonal_.push_back(IndexOf(places_, {i, i}));
  }
}

void GaussNewtonHessian::Fill(PlanProgram* program,
                              double cost_factor,
                              const double* /*multipliers*/,
                              double* entries) {
  std::fill_n(entries, places_.size(), 0.0);
  const std::vector<double>& jacobian = program->cost_entries();
  for (const Product& product : products_) {
    entries[product.at] += cost_factor * jacobian[product.left] * jacobian[product.right];
  }
  for (const size_t at : diagonal_) {
    entries[at] += proximal_;
  }
}

DifferenceHessian::DifferenceHessian(const PlanProgram& program) {
  AddPairs(program.laws(), &places_);
  AddPairs(program.costs(), &places_);
  AddDiagonal(program.unknown_count(), &places_);
  SortUnique(&places_);
  Colour(program.unknown_count());
}

// Two columns with an entry in the same row have different colours (Curtis, Powell and Reid 1974,
// from memory).
void DifferenceHessian::Colour(int unknown_count) {
  std::vector<std::vector<int>> neighbours(static_cast<size_t>(unknown_count));
  for (const Place& place : places_) {
    neighbours[static_cast<size_t>(place.row)].push_back(place.column);
    if (place.row != place.column) {
      neighbours[static_cast<size_t>(place.column)].push_back(place.row);
    }
  }
  std::vector<int> colours(static_cast<size_t>(unknown_count), -1);
  std::vector<int> taken_by;  // by colour, the last column that may not have it
  for (int column = 0; column < unknown_count; ++column) {
    for (const int row : neighbours[static_cast<size_t>(column)]) {
      for (const int other : neighbours[static_cast<size_t>(row)]) {
        if (colours[static_cast<size_t>(other)] >= 0) {
          taken_by[static_cast<size_t>(colours[static_cast<size_t>(other)])] = column;
        }
      }
    }
    const auto is_free = [column](int taken) { return taken != column; };
    const auto found = std::find_if(taken_by.begin(), taken_by.end(), is_free);
    colours[static_cast<size_t>(column)] = static_cast<int>(found - taken_by.begin());
    if (found == taken_by.end()) {
      taken_by.push_back(-1);
      columns_of_.emplace_back();
    }
    columns_of_[static_cast<size_t>(colours[static_cast<size_t>(column)])].push_back(column);
  }
  entries_of_.resize(columns_of_.size());
  for (size_t i = 0; i < places_.size(); ++i) {
    const auto colour = static_cast<size_t>(colours[static_cast<size_t>(places_[i].column)]);
    entries_of_[colour].push_back(i);
  }
}

void DifferenceHessian::Fill(PlanProgram* program,
                             double cost_factor,
                             const double* multipliers,
                             double* entries) {
  constexpr double kStep = 1e-6;  // leaves some 1e-6 of curvature's change and as much rounding
  const VectorXd values = program->Read();
  const VectorXd gradient = program->Gradient(cost_factor, multipliers);
  for (size_t colour = 0; colour < columns_of_.size(); ++colour) {
    VectorXd moved = values;
    for (const int column : columns_of_[colour]) {
      moved[column] += kStep;
    }
    program->Write(moved);
    program->Linearise();
    const VectorXd change = (program->Gradient(cost_factor, multipliers) - gradient) / kStep;
    for (const size_t i : entries_of_[colour]) {
      entries[i] = change[places_[i].row];
    }
  }
  program->Write(values);
  program->Linearise();
}

}  // namespace gaitshelf::bench
