#include "solver/plan/dogleg_plane.h"

#include <limits>

#include <ceres/problem.h>
#include <gtest/gtest.h>

#include "solver/plan/blocks.h"
#include "tests/support/plans.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using test::IsOk;

// A plan's seed with its laws, ready to be solved in one way or the other.
struct Start {
  RobotModel model = test::MakeScaledQuadruped(0.45);
  Stage stage = MakeStage(model, test::MakeAdvanceOrder(12.0, 0.009), {}, 24, false);
  PlanEvaluation evaluation{&stage.problem, &stage.unknowns};
  PenaltyState penalty;

  Start() { penalty.Reset(stage.problem); }
};

ceres::Solver::Options MakeOptions(int iterations) {
  ceres::Solver::Options options;
  options.max_num_iterations = iterations;
  options.initial_trust_region_radius = 10.0;
  options.function_tolerance = 1e-12;
  options.gradient_tolerance = 1e-14;
  options.parameter_tolerance = 1e-14;
  options.logging_type = ceres::SILENT;
  return options;
}

ceres::Solver::Summary SolveWhole(int iterations, Start* start) {
  test::UpdateBeforeEvaluation update(&start->evaluation, start->penalty.smoothing);
  ceres::Problem::Options problem_options;
  problem_options.evaluation_callback = &update;
  ceres::Problem problem(problem_options);
  AddPlanBlocks(&start->evaluation, &start->penalty, &start->stage.unknowns, &problem);
  ceres::Solver::Options options = MakeOptions(iterations);
  options.trust_region_strategy_type = ceres::DOGLEG;
  options.linear_solver_type = ceres::SPARSE_NORMAL_CHOLESKY;
  ceres::Solver::Summary summary;
  ceres::Solve(options, &problem, &summary);
  return summary;
}

ceres::Solver::Summary SolvePlane(int iterations, Start* start) {
  ceres::Problem rows;
  AddPlanBlocks(&start->evaluation, &start->penalty, &start->stage.unknowns, &rows);
  auto system = KnotSystem::Create(start->stage.problem, rows, &start->stage.unknowns);
  EXPECT_THAT(system, IsOk());
  DoglegPlane plane(&*system, 1e-8, [start](bool with_jacobians) {
    start->evaluation.Update(start->penalty.smoothing, with_jacobians);
  });
  ceres::Solver::Summary summary;
  plane.Solve(MakeOptions(iterations), &summary);
  return summary;
}

TEST(DoglegPlaneTest, StepsAsCeresDoesOnTheWholeProblem) {
  Start whole;
  Start plane;
  constexpr int kIterations = 12;
  const ceres::Solver::Summary expected = SolveWhole(kIterations, &whole);
  const ceres::Solver::Summary found = SolvePlane(kIterations, &plane);
  ASSERT_EQ(found.iterations.size(), expected.iterations.size());
  for (size_t i = 0; i < expected.iterations.size(); ++i) {
    EXPECT_EQ(found.iterations[i].step_is_successful, expected.iterations[i].step_is_successful);
    // The damping of 1e-8 enters twice here, and differences grow from step to step.
    EXPECT_NEAR(
        found.iterations[i].cost, expected.iterations[i].cost, 1e-3 * expected.iterations[i].cost)
        << "iteration " << i;
  }
}

TEST(DoglegPlaneTest, LeavesTheBestUnknownsBehind) {
  Start start;
  const ceres::Solver::Summary summary = SolvePlane(9, &start);
  ceres::Problem rows;
  AddPlanBlocks(&start.evaluation, &start.penalty, &start.stage.unknowns, &rows);
  start.evaluation.Update(start.penalty.smoothing, false);
  double cost = 0.0;
  ASSERT_TRUE(rows.Evaluate({}, &cost, nullptr, nullptr, nullptr));
  EXPECT_LT(summary.final_cost, 0.1 * summary.initial_cost);
  // The same sum in another order.
  EXPECT_NEAR(cost, summary.final_cost, 1e-12 * cost);
}

TEST(DoglegPlaneTest, EndsWithoutAStepWhereTheRowsAreNotNumbers) {
  Start start;
  start.stage.unknowns.coordinates(7, 3) = std::numeric_limits<double>::quiet_NaN();
  const Eigen::MatrixXd controls = start.stage.unknowns.controls;
  const ceres::Solver::Summary summary = SolvePlane(9, &start);
  EXPECT_EQ(summary.termination_type, ceres::FAILURE);
  EXPECT_EQ(start.stage.unknowns.controls, controls);
}

}  // namespace
}  // namespace gaitshelf::solver
