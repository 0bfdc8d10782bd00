#include "solver/plan/knot_system.h"

#include <algorithm>
#include <map>

#include <Eigen/Cholesky>
#include <ceres/crs_matrix.h>
#include <gtest/gtest.h>

#include "solver/plan/blocks.h"
#include "tests/support/plans.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using test::HasStatus;
using test::IsOk;

constexpr double kDamping = 1e-3;

// A plan away from its seed, with its rows and the system made of them.
struct Shaken {
  RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage;
  PlanEvaluation evaluation;
  PenaltyState penalty;
  ceres::Problem rows;

  Shaken(const v1::GaitOrder& order, int knots)
      : stage(MakeStage(model, order, {}, knots, false)),
        evaluation(&stage.problem, &stage.unknowns) {
    test::Shake(0.01, 7, &stage.unknowns);
    penalty.Reset(stage.problem);
    evaluation.Update(penalty.smoothing, true);
    AddPlanBlocks(&evaluation, &penalty, &stage.unknowns, &rows);
  }
};

// Jacobian and residuals as Ceres has them, the columns in the order of the system's unknowns.
void EvaluateByCeres(Shaken* shaken, const KnotSystem& system, MatrixXd* jacobian, VectorXd* rest) {
  // The system's own order is found by writing the position of each unknown into it.
  VectorXd kept;
  system.Read(&kept);
  system.Write(VectorXd::LinSpaced(system.size(), 0.0, static_cast<double>(system.size() - 1)));
  std::vector<double*> arrays;
  shaken->rows.GetParameterBlocks(&arrays);
  std::erase_if(arrays,
                [&](double* array) { return shaken->rows.IsParameterBlockConstant(array); });
  std::sort(arrays.begin(), arrays.end(), [](double* a, double* b) { return *a < *b; });
  system.Write(kept);
  ceres::Problem::EvaluateOptions options;
  options.parameter_blocks = arrays;
  std::vector<double> residuals;
  ceres::CRSMatrix sparse;
  ASSERT_TRUE(shaken->rows.Evaluate(options, nullptr, &residuals, nullptr, &sparse));
  *rest = Eigen::Map<VectorXd>(residuals.data(), static_cast<Index>(residuals.size()));
  jacobian->setZero(sparse.num_rows, sparse.num_cols);
  for (int row = 0; row < sparse.num_rows; ++row) {
    for (int i = sparse.rows[static_cast<size_t>(row)];
         i < sparse.rows[static_cast<size_t>(row) + 1];
         ++i) {
      (*jacobian)(row, sparse.cols[static_cast<size_t>(i)]) = sparse.values[static_cast<size_t>(i)];
    }
  }
}

void ExpectSolvesAsDenseMatrices(const v1::GaitOrder& order, int knots) {
  Shaken shaken(order, knots);
  auto system = KnotSystem::Create(shaken.stage.problem, shaken.rows, &shaken.stage.unknowns);
  ASSERT_THAT(system, IsOk());
  MatrixXd jacobian;
  VectorXd residuals;
  EvaluateByCeres(&shaken, *system, &jacobian, &residuals);
  ASSERT_EQ(jacobian.cols(), system->size());
  ASSERT_TRUE(system->Linearise(kDamping));
  const VectorXd gradient = jacobian.transpose() * residuals;
  MatrixXd normal = jacobian.transpose() * jacobian;
  const VectorXd scale = normal.diagonal().cwiseMax(1e-6);
  normal.diagonal() += kDamping * scale;
  // Sums of products in another order.
  EXPECT_NEAR(system->cost(), 0.5 * residuals.squaredNorm(), 1e-12 * residuals.squaredNorm());
  EXPECT_NEAR(system->Cost(), system->cost(), 1e-12 * system->cost());
  EXPECT_LT((system->gradient() - gradient).norm(), 1e-12 * gradient.norm());
  EXPECT_LT((system->squared_scale() - scale).norm(), 1e-12 * scale.norm());
  VectorXd step;
  system->NewtonStep(&step);
  const VectorXd expected = -normal.llt().solve(gradient);
  // Rounding times the condition that this damping leaves.
  EXPECT_LT((step - expected).norm(), 1e-8 * expected.norm());
  KnotSystem::Directions directions(system->size(), 2);
  directions << expected, VectorXd::Random(system->size());
  VectorXd products[2];
  system->TimesFactor(directions, &products[0], &products[1]);
  for (const Index i : {0, 1}) {
    const VectorXd direction = directions.col(i);
    const double square = direction.dot(normal * direction);
    EXPECT_NEAR(products[i].squaredNorm(), square, 1e-9 * square);
  }
}

TEST(KnotSystemTest, SolvesACycleAsDenseMatricesDo) {
  ExpectSolvesAsDenseMatrices(test::MakeAdvanceOrder(12.0, 0.009), 7);
}

TEST(KnotSystemTest, SolvesAJumpBetweenHeldKnotsAsDenseMatricesDo) {
  ExpectSolvesAsDenseMatrices(test::MakeHopOrder(0.004), 12);
}

TEST(KnotSystemTest, ReadsWhatItWrote) {
  Shaken shaken(test::MakeAdvanceOrder(12.0, 0.009), 5);
  auto system = KnotSystem::Create(shaken.stage.problem, shaken.rows, &shaken.stage.unknowns);
  ASSERT_THAT(system, IsOk());
  // Every coordinate, every control and the stride.
  EXPECT_EQ(system->size(), 5 * (14 + 24) + 1);
  const VectorXd values = VectorXd::Random(system->size());
  system->Write(values);
  VectorXd back;
  system->Read(&back);
  EXPECT_EQ(back, values);
}

TEST(KnotSystemTest, RefusesRowsThatCoupleDistantKnots) {
  struct Distant final : ceres::CostFunction {
    explicit Distant(int size) {
      set_num_residuals(1);
      *mutable_parameter_block_sizes() = {size, size};
    }
    bool Evaluate(double const* const*, double*, double**) const override { return true; }
  };
  Shaken shaken(test::MakeAdvanceOrder(12.0, 0.009), 12);
  Eigen::MatrixXd& q = shaken.stage.unknowns.coordinates;
  shaken.rows.AddResidualBlock(new Distant(14), nullptr, q.col(2).data(), q.col(6).data());
  EXPECT_THAT(KnotSystem::Create(shaken.stage.problem, shaken.rows, &shaken.stage.unknowns),
              HasStatus(absl::StatusCode::kInternal, testing::HasSubstr("too far apart")));
}

}  // namespace
}  // namespace gaitshelf::solver
