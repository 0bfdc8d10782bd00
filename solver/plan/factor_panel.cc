#include "solver/plan/factor_panel.h"

#include <algorithm>

namespace gaitshelf::solver {
namespace {

using Eigen::Index;

// Entries of a vector from the place `first` in a list of indices on; 0 for an index of -1.
Eigen::VectorXd Gather(const std::vector<Index>& indices,
                       Index first,
                       const Eigen::Ref<const Eigen::VectorXd>& x) {
  Eigen::VectorXd gathered(static_cast<Index>(indices.size()) - first);
  for (Index i = 0; i < gathered.size(); ++i) {
    const Index index = indices[static_cast<size_t>(first + i)];
    gathered[i] = index < 0 ? 0.0 : x[index];
  }
  return gathered;
}

}  // namespace

void FactorPanel::Take(Index count, const SymmetricTable& table) {
  factor.resize(table.size(), count);
  for (Index i = 0; i < count; ++i) {
    std::copy_n(table.column(i), table.size(), factor.col(i).data());
  }
}

void FactorPanel::SolveBack(const Eigen::VectorXd& right, Eigen::VectorXd* x) const {
  const Index own = factor.cols();
  const Eigen::VectorXd known = Gather(unknowns, own, *x);
  Eigen::VectorXd part = right;
  part.noalias() -= factor.middleRows(own, known.size()).transpose() * known;
  factor.topRows(own).transpose().triangularView<Eigen::Upper>().solveInPlace(part);
  for (Index i = 0; i < own; ++i) {
    (*x)[unknowns[static_cast<size_t>(i)]] = part[i];
  }
}

void FactorPanel::TimesFactor(const Eigen::Ref<const Eigen::VectorXd>& x,
                              Eigen::VectorXd* product) const {
  const Eigen::VectorXd gathered = Gather(unknowns, 0, x);
  for (Index j = 0; j < factor.cols(); ++j) {
    const Index below = gathered.size() - j;
    (*product)[unknowns[static_cast<size_t>(j)]] =
        factor.col(j).segment(j, below).dot(gathered.tail(below));
  }
}

}  // namespace gaitshelf::solver
