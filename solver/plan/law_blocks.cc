#include "solver/plan/law_blocks.h"

#include <vector>

#include "solver/plan/plan_block.h"

namespace gaitshelf::solver {
namespace {

// Equations of motion at a knot, n rows. Parameters: the knots before, at and after; controls; the
// stride where the cycle closes.
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
    const double factor = std::sqrt(state().penalty);
    Rows(residuals) = factor * (evaluation().dynamics().col(knot()) +
                                state().dynamics_multiplier.col(knot()) / state().penalty);
    if (jacobians == nullptr) {
      return true;
    }
    const MidpointInterval& before = evaluation().interval(problem().knot_before(knot()));
    const MidpointInterval& after = evaluation().interval(knot());
    if (IsWanted(jacobians, 0)) {
      Zeroed(jacobians, 0) = factor * before.right_q0;
    }
    if (IsWanted(jacobians, 1)) {
      Eigen::MatrixXd here = before.right_q1 + after.left_q0;
      model().AddDriveHessian(unknowns().coordinates.col(knot()),
                              unknowns().controls.col(knot()).head(problem().drive_count()),
                              &here);
      Zeroed(jacobians, 1) = factor * here;
    }
    if (IsWanted(jacobians, 2)) {
      Zeroed(jacobians, 2) = factor * ByNext();
    }
    if (IsWanted(jacobians, 3)) {
      Zeroed(jacobians, 3) = factor * ByControls();
    }
    if (HasStride(problem(), knot()) && IsWanted(jacobians, 4)) {
      // The stride moves the far end of the interval that closes the cycle, in coordinates 0 and 1.
      const Eigen::MatrixXd& by_end = knot() == 0 ? before.right_q1 : after.left_q1;
      Zeroed(jacobians, 4) = factor * (by_end.leftCols<2>() * evaluation().StrideDirection());
    }
    return true;
  }

 private:
  Eigen::MatrixXd ByNext() const {
    Eigen::MatrixXd next = evaluation().interval(knot()).left_q1;
    if (evaluation().IsTurnedEnd(knot())) {
      next += ByTurnedFeet();
      return next;
    }
    for (Eigen::Index i = 0; i < problem().foot_count(); ++i) {
      model().AddFootHessian(unknowns().coordinates.col(problem().knot_after(knot())),
                             i,
                             evaluation().FootForce(knot(), i),
                             &next);
    }
    return next;
  }

  // Feet at the end of a cycle that turns: knot 0's, with forces and rows turned.
  Eigen::MatrixXd ByTurnedFeet() const {
    const Eigen::Index n = problem().coordinate_count();
    Eigen::MatrixXd by_start = Eigen::MatrixXd::Zero(n, n);
    for (Eigen::Index i = 0; i < problem().foot_count(); ++i) {
      Eigen::MatrixXd force = evaluation().FootForce(knot(), i);
      evaluation().Turn(-1.0, force);
      model().AddFootHessian(unknowns().coordinates.col(0), i, force.col(0), &by_start);
    }
    evaluation().Turn(1.0, by_start);
    return by_start;
  }

  Eigen::MatrixXd ByControls() const {
    const Eigen::Index n = problem().coordinate_count();
    Eigen::MatrixXd by_u = Eigen::MatrixXd::Zero(n, problem().drive_count());
    model().DriveJacobian(unknowns().coordinates.col(knot()), &by_u);
    Eigen::MatrixXd by_controls = Eigen::MatrixXd::Zero(n, problem().control_count());
    by_controls.leftCols(problem().drive_count()) = by_u;
    for (Eigen::Index i = 0; i < problem().foot_count(); ++i) {
      const Eigen::Index at = problem().foot_control(i);
      const Eigen::Matrix3Xd& jacobian = evaluation().force_jacobian(knot(), i);
      by_controls.col(at) = jacobian.row(2).transpose();
      by_controls.col(at + 1) = jacobian.row(0).transpose();
      by_controls.col(at + 2) = jacobian.row(1).transpose();
    }
    return by_controls;
  }
};

// Contact laws of a knot's forces, 4 rows a foot. Parameters: the knots at and after; controls; the
// stride where the cycle closes.
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
    const double penalty = problem().contact_penalty_ratio * state().penalty;
    const double factor = std::sqrt(penalty);
    Rows(residuals) = factor * (evaluation().contact().col(knot()) +
                                state().contact_multiplier.col(knot()) / penalty);
    for (Eigen::Index i = 0; jacobians != nullptr && i < problem().foot_count(); ++i) {
      FillFoot(i, factor, jacobians);
    }
    return true;
  }

 private:
  void FillFoot(Eigen::Index i, double factor, double** jacobians) const {
    const ContactScale& scale = problem().contact;
    const ScalarComplementarity& normal = evaluation().normal_law(knot(), i);
    const ConeComplementarity& friction = evaluation().friction_law(knot(), i);
    const Eigen::Matrix3Xd& here = evaluation().foot(knot(), i).jacobian;
    const Eigen::Matrix3Xd& next = evaluation().end_foot(knot(), i).jacobian;
    const double rate = factor / (problem().knot_period * scale.speed);
    const Eigen::Index row = 4 * i;
    if (IsWanted(jacobians, 0)) {
      Eigen::Map<RowMatrix> map = Whole(jacobians, 0);
      map.row(row).setZero();
      map.middleRows(row + 1, 3) = -rate * friction.by_y.rightCols<2>() * here.topRows(2);
    }
    if (IsWanted(jacobians, 1)) {
      Eigen::Map<RowMatrix> map = Whole(jacobians, 1);
      map.row(row) = factor * normal.by_a / scale.gap * next.row(2);
      map.middleRows(row + 1, 3) = rate * friction.by_y.rightCols<2>() * next.topRows(2);
    }
    if (IsWanted(jacobians, 2)) {
      Eigen::Map<RowMatrix> map = Whole(jacobians, 2);
      map.middleRows(row, 4).setZero();
      const Eigen::Index at = problem().foot_control(i);
      map(row, at) = factor * normal.by_b / scale.force;
      map.block<3, 1>(row + 1, at) =
          factor * model().friction() / scale.force * friction.by_x.col(0);
      map.block<3, 2>(row + 1, at + 1) = factor / scale.force * friction.by_x.rightCols<2>();
      map.block<3, 1>(row + 1, at + 3) = factor * friction.by_y.col(0);
    }
    if (HasStride(problem(), knot()) && IsWanted(jacobians, 3)) {
      Eigen::Map<RowMatrix> map = Whole(jacobians, 3);
      map(row, 0) = 0.0;
      const PlanarPose way = problem().Motion(unknowns().stride).EndByAdvance();
      map.block<3, 1>(row + 1, 0) =
          rate * (friction.by_y.rightCols<2>() * Eigen::Vector2d(way.x, way.y));
    }
  }
};

}  // namespace

void AddDynamicsBlock(const PlanEvaluation* evaluation,
                      const PenaltyState* state,
                      int k,
                      PlanUnknowns* unknowns,
                      ceres::Problem* ceres_problem) {
  const PlanProblem& problem = evaluation->problem();
  std::vector<double*> parameters = {unknowns->coordinates.col(problem.knot_before(k)).data(),
                                     unknowns->coordinates.col(k).data(),
                                     unknowns->coordinates.col(problem.knot_after(k)).data(),
                                     unknowns->controls.col(k).data()};
  if (DynamicsBlock::HasStride(problem, k)) {
    parameters.push_back(&unknowns->stride);
  }
  ceres_problem->AddResidualBlock(new DynamicsBlock(evaluation, state, k), nullptr, parameters);
}

void AddContactBlock(const PlanEvaluation* evaluation,
                     const PenaltyState* state,
                     int k,
                     PlanUnknowns* unknowns,
                     ceres::Problem* ceres_problem) {
  const PlanProblem& problem = evaluation->problem();
  std::vector<double*> parameters = {unknowns->coordinates.col(k).data(),
                                     unknowns->coordinates.col(problem.knot_after(k)).data(),
                                     unknowns->controls.col(k).data()};
  if (ContactBlock::HasStride(problem, k)) {
    parameters.push_back(&unknowns->stride);
  }
  ceres_problem->AddResidualBlock(new ContactBlock(evaluation, state, k), nullptr, parameters);
}

}  // namespace gaitshelf::solver
