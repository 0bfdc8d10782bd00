#include "solver/plan/knot_system.h"

#include <algorithm>
#include <functional>
#include <iterator>
#include <unordered_map>
#include <utility>

#include "solver/base/status_macros.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;

// Rows may couple the coordinates of this many knots in a row.
constexpr int kReach = 3;
// Knots of a cycle that go to the border, so that the rest is a chain.
constexpr size_t kBorderKnots = 2;
// Floor of a column's squared norm, for the scale only: that of Ceres.
constexpr double kLeastSquaredScale = 1e-6;

size_t At(Index i) { return static_cast<size_t>(i); }

// The column of a matrix that an array is, or -1.
Index ColumnOf(const Eigen::MatrixXd& matrix, const double* array) {
  const std::less<> is_before;
  const bool is_outside =
      is_before(array, matrix.data()) || !is_before(array, matrix.data() + matrix.size());
  return is_outside ? -1 : (array - matrix.data()) / matrix.rows();
}

}  // namespace

absl::StatusOr<KnotSystem> KnotSystem::Create(const PlanProblem& problem,
                                              const ceres::Problem& rows,
                                              PlanUnknowns* unknowns) {
  KnotSystem system;
  system.AddBlocks(problem, rows, unknowns);
  system.CollectRows(rows, *unknowns);
  GAITSHELF_RETURN_IF_ERROR(system.Arrange());
  return system;
}

void KnotSystem::AddBlocks(const PlanProblem& problem,
                           const ceres::Problem& rows,
                           PlanUnknowns* unknowns) {
  groups_.resize(At(problem.knot_count));
  const auto add = [&](double* array) {
    if (!rows.HasParameterBlock(array) || rows.IsParameterBlockConstant(array)) {
      return -1;
    }
    blocks_.push_back({.values = array, .size = rows.ParameterBlockSize(array), .offset = size_});
    size_ += blocks_.back().size;
    return static_cast<int>(blocks_.size()) - 1;
  };
  std::vector<int> links;
  for (int k = 0; k < problem.knot_count; ++k) {
    groups_[At(k)].control = add(unknowns->controls.col(k).data());
    links.push_back(add(unknowns->coordinates.col(k).data()));
  }
  std::erase(links, -1);
  std::vector<double*> arrays;
  rows.GetParameterBlocks(&arrays);
  for (double* array : arrays) {
    if (ColumnOf(unknowns->controls, array) < 0 && ColumnOf(unknowns->coordinates, array) < 0) {
      border_.push_back(add(array));
    }
  }
  std::erase(border_, -1);
  link_size_ = unknowns->coordinates.rows();
  const size_t in_border = problem.is_periodic ? std::min(kBorderKnots, links.size()) : 0;
  const auto first_in_border = links.end() - static_cast<std::ptrdiff_t>(in_border);
  chain_.assign(links.begin(), first_in_border);
  std::copy(first_in_border, links.end(), std::back_inserter(border_));
  int place = 0;
  for (const std::vector<int>* part : {&chain_, &border_}) {
    for (const int block : *part) {
      blocks_[At(block)].place = place++;
    }
  }
}

void KnotSystem::CollectRows(const ceres::Problem& rows, const PlanUnknowns& unknowns) {
  std::unordered_map<const double*, int> block_of;
  for (const Block& block : blocks_) {
    block_of.emplace(block.values, static_cast<int>(block_of.size()));
  }
  std::vector<ceres::ResidualBlockId> ids;
  rows.GetResidualBlocks(&ids);
  for (const ceres::ResidualBlockId id : ids) {
    Rows entry;
    entry.function = rows.GetCostFunctionForResidualBlock(id);
    rows.GetParameterBlocksForResidualBlock(id, &entry.parameters);
    Index knot = -1;
    for (double* array : entry.parameters) {
      const auto block = block_of.find(array);
      entry.blocks.push_back(block == block_of.end() ? -1 : block->second);
      knot = std::max(knot, ColumnOf(unknowns.controls, array));
    }
    if (knot < 0) {
      // Rows without controls are at the middle of the coordinates that they couple.
      knot = ColumnOf(unknowns.coordinates, entry.parameters[entry.parameters.size() / 2]);
    }
    groups_[At(std::max<Index>(knot, 0))].rows.push_back(std::move(entry));
  }
}

absl::Status KnotSystem::Arrange() {
  for (const int block : border_) {
    border_size_ += blocks_[At(block)].size;
  }
  const int places = static_cast<int>(chain_.size());
  groups_at_.resize(At(places + 1));
  for (size_t g = 0; g < groups_.size(); ++g) {
    Group& group = groups_[g];
    for (const Rows& rows : group.rows) {
      group.blocks.insert(group.blocks.end(), rows.blocks.begin(), rows.blocks.end());
    }
    std::erase_if(group.blocks, [&](int block) { return block < 0 || block == group.control; });
    std::sort(group.blocks.begin(), group.blocks.end(), [this](int a, int b) {
      return blocks_[At(a)].place < blocks_[At(b)].place;
    });
    group.blocks.erase(std::unique(group.blocks.begin(), group.blocks.end()), group.blocks.end());
    int first = places;
    for (const int block : group.blocks) {
      const int place = blocks_[At(block)].place;
      first = std::min(first, place);
      if (place < 0 || (place < places && place >= first + kReach)) {
        return absl::InternalError(
            "rows of a plan couple controls or coordinates of knots that "
            "are too far apart");
      }
    }
    groups_at_[At(first)].push_back(static_cast<int>(g));
    ArrangeColumns(&group);
  }
  ArrangePanels();
  gradient_.setZero(size_);
  squared_scale_.setZero(size_);
  return absl::OkStatus();
}

void KnotSystem::ArrangeColumns(Group* group) {
  std::vector<int> order = group->blocks;
  if (group->control >= 0) {
    order.insert(order.begin(), group->control);
  }
  std::vector<Index> columns(blocks_.size(), -1);
  for (const int block : order) {
    columns[At(block)] = static_cast<Index>(group->panel.unknowns.size());
    for (Index i = 0; i < blocks_[At(block)].size; ++i) {
      group->panel.unknowns.push_back(blocks_[At(block)].offset + i);
    }
  }
  for (Rows& rows : group->rows) {
    for (const int block : rows.blocks) {
      rows.columns.push_back(block < 0 ? -1 : columns[At(block)]);
    }
    // Entries are taken up in the order of the table's columns.
    rows.order.resize(rows.blocks.size());
    for (size_t i = 0; i < rows.order.size(); ++i) {
      rows.order[i] = i;
    }
    std::erase_if(rows.order, [&rows](size_t i) { return rows.blocks[i] < 0; });
    std::sort(rows.order.begin(), rows.order.end(), [&rows](size_t a, size_t b) {
      return rows.columns[a] < rows.columns[b];
    });
  }
}

void KnotSystem::ArrangePanels() {
  const auto append = [this](int block, FactorPanel* panel) {
    for (Index i = 0; i < blocks_[At(block)].size; ++i) {
      panel->unknowns.push_back(blocks_[At(block)].offset + i);
    }
  };
  chain_panels_.resize(chain_.size());
  for (size_t place = 0; place < chain_.size(); ++place) {
    FactorPanel& panel = chain_panels_[place];
    for (size_t next = place; next < std::min(place + kReach, chain_.size()); ++next) {
      append(chain_[next], &panel);
    }
    panel.unknowns.resize(At(kReach * link_size_), -1);
    for (const int block : border_) {
      append(block, &panel);
    }
  }
  for (const int block : border_) {
    append(block, &border_panel_);
  }
}

void KnotSystem::Read(Eigen::VectorXd* values) const {
  values->resize(size_);
  for (const Block& block : blocks_) {
    std::copy_n(block.values, block.size, values->data() + block.offset);
  }
}

void KnotSystem::Write(const Eigen::VectorXd& values) const {
  for (const Block& block : blocks_) {
    std::copy_n(values.data() + block.offset, block.size, block.values);
  }
}

double KnotSystem::Cost() {
  double sum = 0.0;
  for (const Group& group : groups_) {
    for (const Rows& rows : group.rows) {
      sum += Evaluate(rows, false);
    }
  }
  return 0.5 * sum;
}

// One sweep: what is left of a knot's rows goes on to the chain while the cache still holds it.
bool KnotSystem::Linearise(double damping) {
  gradient_.setZero();
  squared_scale_.setZero();
  front_.Reset(kReach * link_size_ + border_size_ + 1);
  for (int place = 0; place <= static_cast<int>(chain_.size()); ++place) {
    for (const int g : groups_at_[At(place)]) {
      Group& group = groups_[At(g)];
      Collect(&group);
      if (!EliminateControl(damping, &group)) {
        return false;
      }
      AddToFront(group, place);
    }
    if (At(place) < chain_.size() && !EliminateLink(damping, At(place))) {
      return false;
    }
  }
  SumInOrder();
  return EliminateBorder(damping);
}

// Fills the table with a knot's normal equations and notes what they add to gradient and scale: by
// now all that the next link of the chain needs.
void KnotSystem::Collect(Group* group) {
  table_.Reset(static_cast<Index>(group->panel.unknowns.size()) + 1);
  for (Rows& rows : group->rows) {
    rows.square = Evaluate(rows, true);
    products_.Add(arrays_, residuals_, &table_);
  }
  const Index size = table_.size() - 1;
  group->gradient.resize(size);
  group->diagonal.resize(size);
  for (Index i = 0; i < size; ++i) {
    group->gradient[i] = table_.column(i)[size];
    group->diagonal[i] = table_.column(i)[i];
  }
  Add(*group);
}

void KnotSystem::Add(const Group& group) {
  for (Index i = 0; i < group.gradient.size(); ++i) {
    const Index unknown = group.panel.unknowns[At(i)];
    gradient_[unknown] += group.gradient[i];
    squared_scale_[unknown] += group.diagonal[i];
  }
}

// Sums by knots, in which the border's unknowns, too, have all that belongs to them.
void KnotSystem::SumInOrder() {
  gradient_.setZero();
  squared_scale_.setZero();
  double sum = 0.0;
  for (const Group& group : groups_) {
    for (const Rows& rows : group.rows) {
      sum += rows.square;
    }
    Add(group);
  }
  cost_ = 0.5 * sum;
  squared_scale_ = squared_scale_.cwiseMax(kLeastSquaredScale);
}

double KnotSystem::Evaluate(const Rows& rows, bool with_jacobians) {
  residuals_.resize(At(rows.function->num_residuals()));
  if (with_jacobians) {
    const std::vector<int>& sizes = rows.function->parameter_block_sizes();
    jacobians_.resize(std::max(jacobians_.size(), sizes.size()));
    jacobian_pointers_.assign(sizes.size(), nullptr);
    arrays_.clear();
    for (const size_t i : rows.order) {
      jacobians_[i].resize(residuals_.size() * static_cast<size_t>(sizes[i]));
      jacobian_pointers_[i] = jacobians_[i].data();
      arrays_.push_back({jacobians_[i].data(), sizes[i], rows.columns[i]});
    }
  }
  // Blocks of a plan read an evaluation that has been brought up to date; they cannot fail.
  rows.function->Evaluate(rows.parameters.data(),
                          residuals_.data(),
                          with_jacobians ? jacobian_pointers_.data() : nullptr);
  double sum = 0.0;
  for (const double value : residuals_) {
    sum += value * value;
  }
  return sum;
}

bool KnotSystem::EliminateControl(double damping, Group* group) {
  const Index own = group->control < 0 ? 0 : blocks_[At(group->control)].size;
  for (Index i = 0; i < own; ++i) {
    double* column = table_.column(i);
    column[i] += damping * std::max(column[i], kLeastSquaredScale);
  }
  if (!EliminateLeading(own, &table_)) {
    return false;
  }
  group->panel.Take(own, table_);
  return true;
}

// Adds what eliminating the group's controls has left in the table.
void KnotSystem::AddToFront(const Group& group, int place) {
  const Index own = group.panel.factor.cols();
  const Index border_row = kReach * link_size_;
  std::vector<Index> rows;
  for (const int block : group.blocks) {
    const int own_place = blocks_[At(block)].place;
    Index row = (own_place - place) * link_size_;
    if (own_place >= static_cast<int>(chain_.size())) {
      row = border_row;
      for (const int other : border_) {
        if (other == block) {
          break;
        }
        row += blocks_[At(other)].size;
      }
    }
    for (Index i = 0; i < blocks_[At(block)].size; ++i) {
      rows.push_back(row + i);
    }
  }
  rows.push_back(front_.size() - 1);
  for (size_t j = 0; j + 1 < rows.size(); ++j) {
    double* column = front_.column(rows[j]);
    const double* from = table_.column(own + static_cast<Index>(j)) + own;
    for (size_t i = j; i < rows.size(); ++i) {
      column[rows[i]] += from[i];
    }
  }
}

// Moves what is left of a front to where the next place's front has it.
void KnotSystem::ShiftFront() {
  const Index kept = (kReach - 1) * link_size_;
  const Index border_row = kReach * link_size_;
  for (Index j = 0; j < border_row; ++j) {
    double* column = front_.column(j);
    if (j >= kept) {
      std::fill_n(column, front_.size(), 0.0);
      continue;
    }
    const double* from = front_.column(j + link_size_);
    std::copy(from + link_size_, from + border_row, column);
    std::fill_n(column + kept, link_size_, 0.0);
    std::copy(from + border_row, from + front_.size(), column + border_row);
  }
}

bool KnotSystem::EliminateLink(double damping, size_t place) {
  const Index offset = blocks_[At(chain_[place])].offset;
  for (Index i = 0; i < link_size_; ++i) {
    front_.column(i)[i] += damping * std::max(squared_scale_[offset + i], kLeastSquaredScale);
  }
  if (!EliminateLeading(link_size_, &front_)) {
    return false;
  }
  chain_panels_[place].Take(link_size_, front_);
  ShiftFront();
  return true;
}

bool KnotSystem::EliminateBorder(double damping) {
  const Index first = kReach * link_size_;
  table_.Reset(border_size_ + 1);
  for (Index i = 0; i < border_size_; ++i) {
    double* column = table_.column(i);
    std::copy_n(front_.column(first + i) + first, table_.size(), column);
    column[i] += damping * squared_scale_[border_panel_.unknowns[At(i)]];
  }
  if (!EliminateLeading(border_size_, &table_)) {
    return false;
  }
  border_panel_.Take(border_size_, table_);
  return true;
}

void KnotSystem::NewtonStep(Eigen::VectorXd* step) const {
  step->resize(size_);
  const auto solve = [step](const FactorPanel& panel) {
    panel.SolveBack(-panel.factor.row(panel.factor.rows() - 1).transpose(), step);
  };
  solve(border_panel_);
  std::for_each(chain_panels_.rbegin(), chain_panels_.rend(), solve);
  for (const Group& group : groups_) {
    solve(group.panel);
  }
}

void KnotSystem::TimesFactor(const Directions& x,
                             Eigen::VectorXd* first,
                             Eigen::VectorXd* second) const {
  first->resize(size_);
  second->resize(size_);
  const auto multiply = [&](const FactorPanel& panel) {
    panel.TimesFactor(x.col(0), first);
    panel.TimesFactor(x.col(1), second);
  };
  multiply(border_panel_);
  std::for_each(chain_panels_.begin(), chain_panels_.end(), multiply);
  for (const Group& group : groups_) {
    multiply(group.panel);
  }
}

}  // namespace gaitshelf::solver
