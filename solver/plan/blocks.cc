#include "solver/plan/blocks.h"

#include <algorithm>
#include <cmath>
#include <initializer_list>
#include <vector>

#include <ceres/cost_function.h>

namespace gaitshelf::solver {
namespace {

using RowMatrix = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

// What every block shares: its knot, the evaluation and the penalty. Blocks are added and owned by Ceres.
class PlanBlock : public ceres::CostFunction {
 public:
  PlanBlock(const PlanEvaluation* evaluation, const PenaltyState* state, int knot)
      : evaluation_(evaluation), state_(state), knot_(knot) {}

 protected:
  void SetSizes(Eigen::Index rows, std::initializer_list<Eigen::Index> columns) {
    set_num_residuals(static_cast<int>(rows));
    for (const Eigen::Index size : columns) {
      mutable_parameter_block_sizes()->push_back(static_cast<int>(size));
    }
  }
  // The jacobian by one parameter block, set to zero; a null pointer means that it is not wanted.
  bool IsWanted(double** jacobians, size_t block) const {
    return jacobians != nullptr && jacobians[block] != nullptr;
  }
  Eigen::Map<RowMatrix> Zeroed(double** jacobians, size_t block) const {
    Eigen::Map<RowMatrix> map(jacobians[block], num_residuals(),
                              parameter_block_sizes()[block]);
    map.setZero();
    return map;
  }
  Eigen::Map<Eigen::VectorXd> Rows(double* residuals) const {
    return {residuals, num_residuals()};
  }
  const PlanProblem& problem() const { return evaluation_->problem(); }
  const RobotModel& model() const { return *problem().model; }
  const PlanUnknowns& unknowns() const { return evaluation_->unknowns(); }
  double soft_scale() const { return 1.0 / std::sqrt(static_cast<double>(problem().knot_count)); }

  const PlanEvaluation* evaluation_;
  const PenaltyState* state_;
  int knot_;
};

// Equations of motion at a knot, n rows. Parameters: the knots before, at and after; controls; the stride where the
// cycle closes.
class DynamicsBlock final : public PlanBlock {
 public:
  DynamicsBlock(const PlanEvaluation* evaluation, const PenaltyState* state, int knot)
      : PlanBlock(evaluation, state, knot) {
    const Eigen::Index n = problem().coordinate_count();
    SetSizes(n, {n, n, n, problem().control_count()});
    if (HasStride(problem(), knot)) {
      mutable_parameter_block_sizes()->push_back(1);
    }
  }

  static bool HasStride(const PlanProblem& problem, int knot) {
    return problem.is_periodic && (knot == 0 || knot == problem.knot_count - 1);
  }

  bool Evaluate(double const* const* /*parameters*/,
                double* residuals,
                double** jacobians) const override {
    const double factor = std::sqrt(state_->penalty);
    Rows(residuals) = factor * (evaluation_->dynamics().col(knot_) +
                                state_->dynamics_multiplier.col(knot_) / state_->penalty);
    if (jacobians == nullptr) {
      return true;
    }
    const MidpointInterval& before = evaluation_->interval(problem().knot_before(knot_));
    const MidpointInterval& after = evaluation_->interval(knot_);
    if (IsWanted(jacobians, 0)) {
      Zeroed(jacobians, 0) = factor * before.right_q0;
    }
    if (IsWanted(jacobians, 1)) {
      Eigen::MatrixXd here = before.right_q1 + after.left_q0;
      model().AddDriveHessian(unknowns().coordinates.col(knot_),
                              unknowns().controls.col(knot_).head(problem().drive_count()), &here);
      Zeroed(jacobians, 1) = factor * here;
    }
    if (IsWanted(jacobians, 2)) {
      Zeroed(jacobians, 2) = factor * ByNext();
    }
    if (IsWanted(jacobians, 3)) {
      Zeroed(jacobians, 3) = factor * ByControls();
    }
    if (HasStride(problem(), knot_) && IsWanted(jacobians, 4)) {
      // The stride moves the far end of the interval that closes the cycle along x, which is coordinate 0.
      Zeroed(jacobians, 4) =
          factor * (knot_ == 0 ? before.right_q1.col(0) : after.left_q1.col(0));
    }
    return true;
  }

 private:
  Eigen::MatrixXd ByNext() const {
    Eigen::MatrixXd next = evaluation_->interval(knot_).left_q1;
    for (Eigen::Index i = 0; i < problem().foot_count(); ++i) {
      model().AddFootHessian(unknowns().coordinates.col(problem().knot_after(knot_)), i,
                             evaluation_->FootForce(knot_, i), &next);
    }
    return next;
  }

  Eigen::MatrixXd ByControls() const {
    const Eigen::Index n = problem().coordinate_count();
    Eigen::MatrixXd by_u = Eigen::MatrixXd::Zero(n, problem().drive_count());
    model().DriveJacobian(unknowns().coordinates.col(knot_), &by_u);
    Eigen::MatrixXd by_controls = Eigen::MatrixXd::Zero(n, problem().control_count());
    by_controls.leftCols(problem().drive_count()) = by_u;
    for (Eigen::Index i = 0; i < problem().foot_count(); ++i) {
      const Eigen::Index at = problem().foot_control(i);
      const Eigen::Matrix3Xd& jacobian = evaluation_->foot(problem().knot_after(knot_), i).jacobian;
      by_controls.col(at) = jacobian.row(2).transpose();
      by_controls.col(at + 1) = jacobian.row(0).transpose();
      by_controls.col(at + 2) = jacobian.row(1).transpose();
    }
    return by_controls;
  }
};

// Contact laws of a knot's forces, 4 rows a foot. Parameters: the knots at and after; controls; the stride where the
// cycle closes.
class ContactBlock final : public PlanBlock {
 public:
  ContactBlock(const PlanEvaluation* evaluation, const PenaltyState* state, int knot)
      : PlanBlock(evaluation, state, knot) {
    const Eigen::Index n = problem().coordinate_count();
    SetSizes(4 * problem().foot_count(), {n, n, problem().control_count()});
    if (HasStride(problem(), knot)) {
      mutable_parameter_block_sizes()->push_back(1);
    }
  }

  static bool HasStride(const PlanProblem& problem, int knot) {
    return problem.is_periodic && knot == problem.knot_count - 1;
  }

  bool Evaluate(double const* const* /*parameters*/,
                double* residuals,
                double** jacobians) const override {
    const double penalty = problem().contact_penalty_ratio * state_->penalty;
    const double factor = std::sqrt(penalty);
    Rows(residuals) = factor * (evaluation_->contact().col(knot_) +
                                state_->contact_multiplier.col(knot_) / penalty);
    for (Eigen::Index i = 0; jacobians != nullptr && i < problem().foot_count(); ++i) {
      FillFoot(i, factor, jacobians);
    }
    return true;
  }

 private:
  void FillFoot(Eigen::Index i, double factor, double** jacobians) const {
    const ContactScale& scale = problem().contact;
    const ScalarComplementarity& normal = evaluation_->normal_law(knot_, i);
    const ConeComplementarity& friction = evaluation_->friction_law(knot_, i);
    const Eigen::Matrix3Xd& here = evaluation_->foot(knot_, i).jacobian;
    const Eigen::Matrix3Xd& next = evaluation_->foot(problem().knot_after(knot_), i).jacobian;
    const double rate = factor / (problem().knot_period * scale.speed);
    const Eigen::Index n = problem().coordinate_count();
    const Eigen::Index row = 4 * i;
    if (IsWanted(jacobians, 0)) {
      auto map = Map(jacobians, 0, row);
      map.row(row).setZero();
      map.middleRows(row + 1, 3) = -rate * friction.by_y.rightCols<2>() * here.topRows(2);
    }
    if (IsWanted(jacobians, 1)) {
      auto map = Map(jacobians, 1, row);
      map.row(row) = factor * normal.by_a / scale.gap * next.row(2);
      map.middleRows(row + 1, 3) = rate * friction.by_y.rightCols<2>() * next.topRows(2);
    }
    if (IsWanted(jacobians, 2)) {
      auto map = Map(jacobians, 2, row);
      map.middleRows(row, 4).setZero();
      const Eigen::Index at = problem().foot_control(i);
      map(row, at) = factor * normal.by_b / scale.force;
      map.block<3, 1>(row + 1, at) =
          factor * model().friction() / scale.force * friction.by_x.col(0);
      map.block<3, 2>(row + 1, at + 1) = factor / scale.force * friction.by_x.rightCols<2>();
      map.block<3, 1>(row + 1, at + 3) = factor * friction.by_y.col(0);
    }
    if (HasStride(problem(), knot_) && IsWanted(jacobians, 3)) {
      auto map = Map(jacobians, 3, row);
      map(row, 0) = 0.0;
      map.block<3, 1>(row + 1, 0) = rate * friction.by_y.col(1);
    }
    (void)n;
  }
  Eigen::Map<RowMatrix> Map(double** jacobians, size_t block, Eigen::Index /*row*/) const {
    return {jacobians[block], num_residuals(), parameter_block_sizes()[block]};
  }
};

// Soft terms and limits of a knot's controls alone.
class ControlBlock final : public PlanBlock {
 public:
  ControlBlock(const PlanEvaluation* evaluation, const PenaltyState* state, int knot)
      : PlanBlock(evaluation, state, knot) {
    SetSizes(2 * problem().drive_count() + 5 * problem().foot_count(),
             {problem().control_count()});
  }

  bool Evaluate(double const* const* /*parameters*/,
                double* residuals,
                double** jacobians) const override {
    Eigen::Map<Eigen::VectorXd> rows = Rows(residuals);
    const bool is_wanted = IsWanted(jacobians, 0);
    RowMatrix none(0, 0);
    Eigen::Map<RowMatrix> jacobian =
        is_wanted ? Zeroed(jacobians, 0) : Eigen::Map<RowMatrix>(none.data(), 0, 0);
    FillDrives(is_wanted, &rows, &jacobian);
    FillFeet(is_wanted, &rows, &jacobian);
    return true;
  }

 private:
  void FillDrives(bool is_wanted,
                  Eigen::Map<Eigen::VectorXd>* rows,
                  Eigen::Map<RowMatrix>* jacobian) const {
    const double penalty = problem().limit_penalty_ratio * state_->penalty;
    const double effort = problem().weights.effort * soft_scale();
    for (Eigen::Index d = 0; d < problem().drive_count(); ++d) {
      const double u = unknowns().controls(d, knot_);
      const Drive& drive = model().drives()[static_cast<size_t>(d)];
      (*rows)(2 * d) = effort * u;
      const double limit =
          drive.is_present
              ? LimitRow(u, drive.lower + problem().drive_margin,
                         drive.upper - problem().drive_margin,
                         state_->drive_multiplier(d, knot_) / penalty)
              : 0.0;
      (*rows)(2 * d + 1) = std::sqrt(penalty) * limit;
      if (is_wanted) {
        (*jacobian)(2 * d, d) = effort;
        (*jacobian)(2 * d + 1, d) = limit != 0.0 ? std::sqrt(penalty) : 0.0;
      }
    }
  }

  void FillFeet(bool is_wanted,
                Eigen::Map<Eigen::VectorXd>* rows,
                Eigen::Map<RowMatrix>* jacobian) const {
    const PlanWeights& weights = problem().weights;
    for (Eigen::Index i = 0; i < problem().foot_count(); ++i) {
      const Eigen::Index row = 2 * problem().drive_count() + 5 * i;
      const Eigen::Index at = problem().foot_control(i);
      const double slip = weights.slip * soft_scale();
      const double normal = unknowns().controls(at, knot_);
      const double speed = unknowns().controls(at + 3, knot_);
      for (Eigen::Index j = 0; j < 4; ++j) {
        const double weight = (j < 3 ? weights.force : weights.sliding_speed) * soft_scale();
        (*rows)(row + j) = weight * unknowns().controls(at + j, knot_);
        if (is_wanted) {
          (*jacobian)(row + j, at + j) = weight;
        }
      }
      (*rows)(row + 4) = slip * normal * speed;
      if (is_wanted) {
        (*jacobian)(row + 4, at) = slip * speed;
        (*jacobian)(row + 4, at + 3) = slip * normal;
      }
    }
  }
};

// Soft terms and limits of a knot's coordinates alone.
class PostureBlock final : public PlanBlock {
 public:
  PostureBlock(const PlanEvaluation* evaluation, const PenaltyState* state, int knot)
      : PlanBlock(evaluation, state, knot) {
    const Eigen::Index base = model().base_count();
    // base: one row each, then leg coordinates against the target and their limits, then clearance.
    SetSizes(base + 2 * problem().drive_count() + problem().foot_count(),
             {problem().coordinate_count()});
  }

  bool Evaluate(double const* const* /*parameters*/,
                double* residuals,
                double** jacobians) const override {
    Eigen::Map<Eigen::VectorXd> rows = Rows(residuals);
    const bool is_wanted = IsWanted(jacobians, 0);
    RowMatrix none(0, 0);
    Eigen::Map<RowMatrix> jacobian =
        is_wanted ? Zeroed(jacobians, 0) : Eigen::Map<RowMatrix>(none.data(), 0, 0);
    FillBase(is_wanted, &rows, &jacobian);
    FillLegs(is_wanted, &rows, &jacobian);
    FillClearance(is_wanted, &rows, &jacobian);
    return true;
  }

 private:
  void FillBase(bool is_wanted,
                Eigen::Map<Eigen::VectorXd>* rows,
                Eigen::Map<RowMatrix>* jacobian) const {
    if (model().base_count() == 0) {
      return;
    }
    const PlanWeights& weights = problem().weights;
    const double start =
        problem().is_periodic && knot_ == 0 ? weights.start / soft_scale() : 0.0;
    const Eigen::Array<double, 6, 1> weight =
        soft_scale() * (Eigen::Array<double, 6, 1>() << start, weights.sideways, weights.height,
                        weights.attitude, weights.attitude, weights.attitude)
                           .finished();
    for (Eigen::Index j = 0; j < 6; ++j) {
      (*rows)(j) = weight(j) * (unknowns().coordinates(j, knot_) -
                                problem().posture_target(j, knot_));
      if (is_wanted) {
        (*jacobian)(j, j) = weight(j);
      }
    }
  }

  void FillLegs(bool is_wanted,
                Eigen::Map<Eigen::VectorXd>* rows,
                Eigen::Map<RowMatrix>* jacobian) const {
    const double penalty = problem().limit_penalty_ratio * state_->penalty;
    const double weight = problem().weights.legs * soft_scale();
    for (Eigen::Index d = 0; d < problem().drive_count(); ++d) {
      const Eigen::Index at = model().base_count() + d;
      const Eigen::Index row = model().base_count() + 2 * d;
      const double y = unknowns().coordinates(at, knot_);
      const Travel& travel = model().travels()[static_cast<size_t>(d)];
      const double limit =
          LimitRow(y, travel.lower + problem().travel_margin,
                   travel.upper - problem().travel_margin,
                   state_->travel_multiplier(d, knot_) / penalty);
      (*rows)(row) = weight * (y - problem().posture_target(at, knot_));
      (*rows)(row + 1) = std::sqrt(penalty) * limit;
      if (is_wanted) {
        (*jacobian)(row, at) = weight;
        (*jacobian)(row + 1, at) = limit != 0.0 ? std::sqrt(penalty) : 0.0;
      }
    }
  }

  void FillClearance(bool is_wanted,
                     Eigen::Map<Eigen::VectorXd>* rows,
                     Eigen::Map<RowMatrix>* jacobian) const {
    const double weight = problem().weights.clearance * soft_scale();
    for (Eigen::Index i = 0; i < problem().foot_count(); ++i) {
      const Eigen::Index row = model().base_count() + 2 * problem().drive_count() + i;
      const FootKinematics& foot = evaluation_->foot(knot_, i);
      const double lack = problem().clearance_target(i, knot_) - foot.position.z();
      const bool is_active = problem().clearance_target(i, knot_) > 0.0 && lack > 0.0;
      (*rows)(row) = is_active ? weight * lack : 0.0;
      if (is_wanted && is_active) {
        jacobian->row(row) = -weight * foot.jacobian.row(2);
      }
    }
  }
};

// Second differences of all coordinates but the travel along x.
class AccelerationBlock final : public PlanBlock {
 public:
  AccelerationBlock(const PlanEvaluation* evaluation, const PenaltyState* state, int knot)
      : PlanBlock(evaluation, state, knot) {
    const Eigen::Index n = problem().coordinate_count();
    SetSizes(n - Skipped(), {n, n, n});
  }

  bool Evaluate(double const* const* /*parameters*/,
                double* residuals,
                double** jacobians) const override {
    const Eigen::Index n = problem().coordinate_count();
    const Eigen::MatrixXd& q = unknowns().coordinates;
    const double factor = problem().weights.acceleration * soft_scale() /
                          (problem().knot_period * problem().knot_period);
    Rows(residuals) = factor * (q.col(problem().knot_after(knot_)) - 2.0 * q.col(knot_) +
                                q.col(problem().knot_before(knot_)))
                                   .tail(n - Skipped());
    for (size_t block = 0; block < 3; ++block) {
      if (IsWanted(jacobians, block)) {
        Zeroed(jacobians, block).rightCols(n - Skipped()).diagonal().setConstant(
            block == 1 ? -2.0 * factor : factor);
      }
    }
    return true;
  }

 private:
  Eigen::Index Skipped() const { return model().base_count() > 0 ? 1 : 0; }
};

// One soft row on one entry of one parameter block: weight * (value - target).
class EntryBlock final : public ceres::CostFunction {
 public:
  EntryBlock(Eigen::Index size, Eigen::Index entry, double weight, double target)
      : entry_(entry), weight_(weight), target_(target) {
    set_num_residuals(1);
    mutable_parameter_block_sizes()->push_back(static_cast<int>(size));
  }

  bool Evaluate(double const* const* parameters,
                double* residuals,
                double** jacobians) const override {
    residuals[0] = weight_ * (parameters[0][entry_] - target_);
    if (jacobians != nullptr && jacobians[0] != nullptr) {
      std::fill_n(jacobians[0], parameter_block_sizes()[0], 0.0);
      jacobians[0][entry_] = weight_;
    }
    return true;
  }

 private:
  Eigen::Index entry_;
  double weight_;
  double target_;
};

void AddKnotBlocks(const PlanEvaluation* evaluation,
                   const PenaltyState* state,
                   int k,
                   PlanUnknowns* unknowns,
                   ceres::Problem* ceres_problem) {
  const PlanProblem& problem = evaluation->problem();
  double* before = unknowns->coordinates.col(problem.knot_before(k)).data();
  double* here = unknowns->coordinates.col(k).data();
  double* after = unknowns->coordinates.col(problem.knot_after(k)).data();
  double* controls = unknowns->controls.col(k).data();
  std::vector<double*> dynamics = {before, here, after, controls};
  if (DynamicsBlock::HasStride(problem, k)) {
    dynamics.push_back(&unknowns->stride);
  }
  ceres_problem->AddResidualBlock(new DynamicsBlock(evaluation, state, k), nullptr, dynamics);
  if (problem.foot_count() > 0) {
    std::vector<double*> contact = {here, after, controls};
    if (ContactBlock::HasStride(problem, k)) {
      contact.push_back(&unknowns->stride);
    }
    ceres_problem->AddResidualBlock(new ContactBlock(evaluation, state, k), nullptr, contact);
  }
  ceres_problem->AddResidualBlock(new ControlBlock(evaluation, state, k), nullptr, controls);
  if (problem.weights.acceleration > 0.0) {
    ceres_problem->AddResidualBlock(new AccelerationBlock(evaluation, state, k), nullptr, before,
                                    here, after);
  }
}

}  // namespace

void PenaltyState::Reset(const PlanProblem& problem) {
  dynamics_multiplier.setZero(problem.coordinate_count(), problem.knot_count);
  contact_multiplier.setZero(4 * problem.foot_count(), problem.knot_count);
  drive_multiplier.setZero(problem.drive_count(), problem.knot_count);
  travel_multiplier.setZero(problem.drive_count(), problem.knot_count);
}

double LimitRow(double value, double lower, double upper, double shift) {
  if (shift >= 0.0) {
    const double above = value - upper + shift;
    if (above > 0.0) {
      return above;
    }
  }
  if (shift <= 0.0) {
    const double below = value - lower + shift;
    if (below < 0.0) {
      return below;
    }
  }
  return 0.0;
}

void PenaltyState::UpdateMultipliers(const PlanEvaluation& evaluation) {
  const PlanProblem& problem = evaluation.problem();
  const RobotModel& model = *problem.model;
  dynamics_multiplier += penalty * evaluation.dynamics();
  contact_multiplier += problem.contact_penalty_ratio * penalty * evaluation.contact();
  const double limit_penalty = problem.limit_penalty_ratio * penalty;
  for (int k = problem.first_free_knot(); k < problem.end_free_knot(); ++k) {
    for (Eigen::Index d = 0; d < problem.drive_count(); ++d) {
      const Drive& drive = model.drives()[static_cast<size_t>(d)];
      const Travel& travel = model.travels()[static_cast<size_t>(d)];
      if (drive.is_present) {
        drive_multiplier(d, k) =
            limit_penalty * LimitRow(evaluation.unknowns().controls(d, k),
                                     drive.lower + problem.drive_margin,
                                     drive.upper - problem.drive_margin,
                                     drive_multiplier(d, k) / limit_penalty);
      }
      travel_multiplier(d, k) =
          limit_penalty *
          LimitRow(evaluation.unknowns().coordinates(model.base_count() + d, k),
                   travel.lower + problem.travel_margin, travel.upper - problem.travel_margin,
                   travel_multiplier(d, k) / limit_penalty);
    }
  }
}

void AddPlanBlocks(const PlanEvaluation* evaluation,
                   const PenaltyState* state,
                   PlanUnknowns* unknowns,
                   ceres::Problem* ceres_problem) {
  const PlanProblem& problem = evaluation->problem();
  for (int k = problem.first_free_knot(); k < problem.end_free_knot(); ++k) {
    AddKnotBlocks(evaluation, state, k, unknowns, ceres_problem);
  }
  for (int k = 0; k < problem.knot_count; ++k) {
    double* here = unknowns->coordinates.col(k).data();
    if (problem.is_fixed_knot(k)) {
      ceres_problem->SetParameterBlockConstant(here);
    } else {
      ceres_problem->AddResidualBlock(new PostureBlock(evaluation, state, k), nullptr, here);
    }
  }
  if (problem.is_periodic) {
    ceres_problem->AddResidualBlock(
        new EntryBlock(1, 0, problem.weights.stride, problem.stride_target), nullptr,
        &unknowns->stride);
  }
  if (problem.apex.has_value()) {
    constexpr Eigen::Index kHeightEntry = 2;
    ceres_problem->AddResidualBlock(
        new EntryBlock(problem.coordinate_count(), kHeightEntry, problem.weights.apex,
                       problem.apex->height),
        nullptr, unknowns->coordinates.col(problem.apex->knot).data());
  }
}

}  // namespace gaitshelf::solver
