// Plan problems that several tests share, and a check of residual blocks against central
// differences.
#ifndef GAITSHELF_TESTS_SUPPORT_PLANS_H_
#define GAITSHELF_TESTS_SUPPORT_PLANS_H_

#include <cmath>
#include <functional>
#include <memory>
#include <random>
#include <vector>

#include <ceres/crs_matrix.h>
#include <ceres/evaluation_callback.h>
#include <ceres/problem.h>
#include <gtest/gtest.h>

#include "solver/plan/evaluation.h"
#include "solver/plan/penalty.h"
#include "solver/plan/stage.h"
#include "tests/support/robots.h"

namespace gaitshelf::test {

inline v1::GaitOrder MakeAdvanceOrder(double frequency_hz, double advance_m) {
  v1::GaitOrder order;
  order.set_robot("quadruped");
  order.set_surface("bench");
  order.set_stride_frequency_hz(frequency_hz);
  order.mutable_task()->mutable_advance()->set_advance_m(advance_m);
  return order;
}

// Goes along an arc, with a sidestep.
inline v1::GaitOrder MakeTurnOrder() {
  v1::GaitOrder order = MakeAdvanceOrder(12.0, 0.009);
  order.mutable_task()->mutable_advance()->set_sidestep_m(0.001);
  order.mutable_task()->mutable_advance()->set_turn_rad(0.3);
  return order;
}

inline v1::GaitOrder MakeStandOrder(double height_m) {
  v1::GaitOrder order;
  order.set_robot("quadruped");
  order.set_surface("bench");
  order.mutable_task()->mutable_stand()->set_height_m(height_m);
  return order;
}

inline v1::GaitOrder MakeHopOrder(double rise_m) {
  v1::GaitOrder order;
  order.set_robot("quadruped");
  order.set_surface("bench");
  order.mutable_task()->mutable_hop()->set_rise_m(rise_m);
  return order;
}

// A robot as large and heavy as the quadruped, in units in which that one's height, mass and
// gravity are 1.
inline solver::RobotModel MakeScaledModel(const v1::Robot& robot, double friction) {
  const double length_m = 0.011;
  return solver::RobotModel::Create(
             robot,
             MakeSurface(friction),
             {length_m, 1.9e-3, std::sqrt(length_m / solver::kGravityMPerS2)})
      .value();
}
inline solver::RobotModel MakeScaledQuadruped(double friction) {
  return MakeScaledModel(MakeQuadruped(), friction);
}

// Moves every unknown by a random amount, so that no law sits at a special point.
inline void Shake(double size, unsigned rng, solver::PlanUnknowns* unknowns) {
  std::mt19937 generator(rng);
  std::uniform_real_distribution<double> uniform(-size, size);
  for (Eigen::MatrixXd* matrix : {&unknowns->coordinates, &unknowns->controls}) {
    for (double& value : matrix->reshaped()) {
      value += uniform(generator);
    }
  }
  unknowns->stride += uniform(generator);
}

class UpdateBeforeEvaluation final : public ceres::EvaluationCallback {
 public:
  UpdateBeforeEvaluation(solver::PlanEvaluation* evaluation, double smoothing)
      : evaluation_(evaluation), smoothing_(smoothing) {}
  void PrepareForEvaluation(bool /*evaluate_jacobians*/, bool /*new_evaluation_point*/) override {
    evaluation_->Update(smoothing_, true);
  }

 private:
  solver::PlanEvaluation* evaluation_;
  double smoothing_;
};

// Adds blocks to a Ceres problem over the stage's unknowns.
using AddBlocks = std::function<void(const solver::PlanEvaluation*,
                                     const solver::PenaltyState*,
                                     solver::PlanUnknowns*,
                                     ceres::Problem*)>;

// Compares the analytic jacobian of the added blocks with central differences at the stage's
// unknowns.
//   tolerance   relative to 1 + the entry
inline void ExpectJacobiansMatch(solver::Stage* stage, double tolerance, const AddBlocks& add) {
  solver::PlanEvaluation evaluation(&stage->problem, &stage->unknowns);
  solver::PenaltyState state;
  state.Reset(stage->problem);
  state.smoothing = 0.1;
  UpdateBeforeEvaluation update(&evaluation, state.smoothing);
  ceres::Problem::Options options;
  options.evaluation_callback = &update;
  ceres::Problem problem(options);
  add(&evaluation, &state, &stage->unknowns, &problem);
  std::vector<double*> blocks;
  problem.GetParameterBlocks(&blocks);
  ceres::Problem::EvaluateOptions evaluate_options;
  evaluate_options.parameter_blocks = blocks;  // fixes the order of the columns
  std::vector<double> residuals;
  ceres::CRSMatrix jacobian;
  ASSERT_TRUE(problem.Evaluate(evaluate_options, nullptr, &residuals, nullptr, &jacobian));
  Eigen::MatrixXd dense = Eigen::MatrixXd::Zero(jacobian.num_rows, jacobian.num_cols);
  for (int row = 0; row < jacobian.num_rows; ++row) {
    for (int i = jacobian.rows[static_cast<size_t>(row)];
         i < jacobian.rows[static_cast<size_t>(row) + 1];
         ++i) {
      dense(row, jacobian.cols[static_cast<size_t>(i)]) = jacobian.values[static_cast<size_t>(i)];
    }
  }
  const double step = 1e-6;
  Eigen::Index column = 0;
  double worst = 0.0;
  for (double* block : blocks) {
    for (int i = 0; i < problem.ParameterBlockSize(block); ++i, ++column) {
      const double at = block[i];
      std::vector<double> above;
      std::vector<double> below;
      block[i] = at + step;
      ASSERT_TRUE(problem.Evaluate({}, nullptr, &above, nullptr, nullptr));
      block[i] = at - step;
      ASSERT_TRUE(problem.Evaluate({}, nullptr, &below, nullptr, nullptr));
      block[i] = at;
      for (size_t row = 0; row < residuals.size(); ++row) {
        const double numeric = (above[row] - below[row]) / (2.0 * step);
        const double analytic = dense(static_cast<Eigen::Index>(row), column);
        worst = std::max(worst, std::abs(numeric - analytic) / (1.0 + std::abs(analytic)));
      }
    }
  }
  EXPECT_EQ(column, jacobian.num_cols);
  EXPECT_GT(dense.norm(), 0.0);
  EXPECT_LT(worst, tolerance);
}

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SUPPORT_PLANS_H_
