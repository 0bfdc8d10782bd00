#include "tests/bench/plan_program.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>

#include "solver/plan/blocks.h"

namespace gaitshelf::bench {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

// Makes rows of limits vanish among the costs: each is multiplied by its root. Limits are bounds
// here.
constexpr double kNoPenalty = 1e-30;
constexpr double kInfinite = std::numeric_limits<double>::infinity();

bool AreFinite(const std::vector<double>& values) {
  return std::all_of(
      values.begin(), values.end(), [](double value) { return std::isfinite(value); });
}

void AddTransposedProduct(const RowPattern& rows,
                          const std::vector<double>& entries,
                          double factor,
                          const double* by_row,
                          VectorXd* sum) {
  for (size_t i = 0; i < entries.size(); ++i) {
    const Place& place = rows.places()[i];
    (*sum)[place.column] += factor * by_row[place.row] * entries[i];
  }
}

}  // namespace

PlanProgram::PlanProgram(const solver::Stage& stage)
    : stage_(stage), smoothing_(stage.schedule.last_smoothing) {
  stage_.problem.contact_penalty_ratio = 1.0;
  stage_.unknowns.DeriveDriveFigures(stage_.problem);
  evaluation_ = std::make_unique<solver::PlanEvaluation>(&stage_.problem, &stage_.unknowns);
  of_laws_.Reset(stage_.problem);
  of_costs_.Reset(stage_.problem);
  of_costs_.penalty = kNoPenalty;
  solver::AddLawBlocks(evaluation_.get(), &of_laws_, &stage_.unknowns, &law_rows_);
  solver::AddSoftBlocks(evaluation_.get(), &of_costs_, &stage_.unknowns, &cost_rows_);
  std::vector<UnknownArray> arrays;
  int first = 0;
  for (Eigen::MatrixXd* matrix : {&stage_.unknowns.coordinates, &stage_.unknowns.controls}) {
    for (Index k = 0; k < matrix->cols(); ++k) {
      arrays.push_back({matrix->col(k).data(), first});
      first += static_cast<int>(matrix->rows());
    }
  }
  arrays.push_back({&stage_.unknowns.stride, first});
  lower_ = VectorXd::Constant(first + 1, -kInfinite);
  upper_ = VectorXd::Constant(first + 1, kInfinite);
  laws_ = std::make_unique<RowPattern>(law_rows_, arrays);
  costs_ = std::make_unique<RowPattern>(cost_rows_, arrays);
  SetBounds();
  ShowPoints();
}

void PlanProgram::SetBounds() {
  const solver::PlanProblem& problem = stage_.problem;
  const solver::RobotModel& model = *problem.model;
  const Index controls_at = stage_.unknowns.coordinates.size();
  for (int k = 0; k < problem.knot_count; ++k) {
    for (Index d = 0; d < problem.drive_count(); ++d) {
      const solver::Travel& travel = model.travels()[static_cast<size_t>(d)];
      const Index coordinate = k * problem.coordinate_count() + model.base_count() + d;
      lower_[coordinate] = travel.lower + problem.travel_margin;
      upper_[coordinate] = travel.upper - problem.travel_margin;
      const solver::Drive& drive = model.drives()[static_cast<size_t>(d)];
      const Index control = controls_at + k * problem.control_count() + d;
      if (drive.is_present) {
        lower_[control] = drive.lower + problem.drive_margin;
        upper_[control] = drive.upper - problem.drive_margin;
      }
    }
  }
}

// Shows both patterns points at which nothing is at rest or exactly aligned, among them bodies that
// lie too low, so that every lack of clearance counts.
void PlanProgram::ShowPoints() {
  constexpr int kPoints = 4;
  constexpr double kShake = 0.05;
  constexpr Index kHeight = 2;
  const VectorXd seed = Read();
  std::mt19937 generator(1);
  std::uniform_real_distribution<double> uniform(-kShake, kShake);
  for (int point = 0; point < kPoints; ++point) {
    Write(seed + VectorXd::NullaryExpr(seed.size(), [&] { return uniform(generator); }));
    if (point % 2 == 1 && stage_.problem.model->base_count() > 0) {
      stage_.unknowns.coordinates.row(kHeight).array() -= 1.0;
    }
    evaluation_->Update(smoothing_, true);
    laws_->Show();
    costs_->Show();
  }
  laws_->Fix();
  costs_->Fix();
  Write(seed);
}

void PlanProgram::set_smoothing(double smoothing) {
  smoothing_ = smoothing;
  has_values_ = has_jacobians_ = false;
}

VectorXd PlanProgram::Read() const {
  VectorXd values(unknown_count());
  values << stage_.unknowns.coordinates.reshaped(), stage_.unknowns.controls.reshaped(),
      stage_.unknowns.stride;
  return values;
}

void PlanProgram::Write(const VectorXd& values) {
  const Index coordinates = stage_.unknowns.coordinates.size();
  const Index controls = stage_.unknowns.controls.size();
  stage_.unknowns.coordinates.reshaped() = values.head(coordinates);
  stage_.unknowns.controls.reshaped() = values.segment(coordinates, controls);
  stage_.unknowns.stride = values[values.size() - 1];
  has_values_ = has_jacobians_ = false;
}

bool PlanProgram::Evaluate() {
  if (!has_values_) {
    evaluation_->Update(smoothing_, false);
    is_good_ = AreFinite(laws_->Residuals()) && AreFinite(costs_->Residuals());
    has_values_ = true;
  }
  return is_good_;
}

bool PlanProgram::Linearise() {
  if (!has_jacobians_) {
    evaluation_->Update(smoothing_, true);
    const bool are_laws_inside = laws_->Linearise(&law_entries_);
    const bool are_costs_inside = costs_->Linearise(&cost_entries_);
    is_good_ = are_laws_inside && are_costs_inside && AreFinite(law_entries_) &&
               AreFinite(laws_->residuals()) && AreFinite(costs_->residuals());
    has_values_ = has_jacobians_ = true;
  }
  return is_good_;
}

double PlanProgram::Cost() const {
  const std::vector<double>& rows = costs_->residuals();
  return 0.5 *
         Eigen::Map<const VectorXd>(rows.data(), static_cast<Index>(rows.size())).squaredNorm();
}

VectorXd PlanProgram::Gradient(double cost_factor, const double* multipliers) const {
  VectorXd gradient = VectorXd::Zero(unknown_count());
  AddTransposedProduct(*costs_, cost_entries_, cost_factor, costs_->residuals().data(), &gradient);
  if (multipliers != nullptr) {
    AddTransposedProduct(*laws_, law_entries_, 1.0, multipliers, &gradient);
  }
  return gradient;
}

PlanScore PlanProgram::Score() {
  const double smoothing = smoothing_;
  set_smoothing(stage_.schedule.last_smoothing);
  Evaluate();
  const PlanScore score = {Cost(), evaluation_->Violation().Worst()};
  set_smoothing(smoothing);
  return score;
}

}  // namespace gaitshelf::bench
