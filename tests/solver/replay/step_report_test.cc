#include "solver/replay/step_report.h"

#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using ::testing::ElementsAre;

TEST(StepInHalvesTest, HalvesWhereAStepFails) {
  std::vector<double> tried;
  StepReport report;
  const auto short_ones = [&](double h) {
    tried.push_back(h);
    return h < 0.3;
  };
  ASSERT_THAT(StepInHalves(1.0, 2, short_ones, &report), test::IsOk());
  EXPECT_THAT(tried, ElementsAre(1.0, 0.5, 0.25, 0.25, 0.5, 0.25, 0.25));
  EXPECT_EQ(report.substep_count, 4);
}

TEST(StepInHalvesTest, GoesBackToLongStepsAfterShortOnes) {
  std::vector<double> tried;
  double done = 0.0;
  StepReport report;
  const auto short_at_first = [&](double h) {
    tried.push_back(h);
    const bool is_made = done >= 0.25 || h < 0.2;
    done += is_made ? h : 0.0;
    return is_made;
  };
  ASSERT_THAT(StepInHalves(1.0, 0, short_at_first, &report), test::IsOk());
  EXPECT_THAT(tried, ElementsAre(1.0, 0.5, 0.25, 0.125, 0.125, 0.25, 0.5));
  EXPECT_EQ(report.substep_count, 4);
}

TEST(StepInHalvesTest, GivesUpAfterSixHalvings) {
  StepReport report;
  double least = 1.0;
  const absl::Status status = StepInHalves(
      1.0,
      0,
      [&](double h) {
        least = h;
        return false;
      },
      &report);
  EXPECT_THAT(status,
              test::HasStatus(absl::StatusCode::kInternal, ::testing::HasSubstr("converge")));
  EXPECT_EQ(least, 1.0 / 64.0);
}

TEST(StepReportTest, SumsSlipUnderLoadAndAveragesForces) {
  StepReport report;
  const Eigen::VectorXd loaded = (Eigen::VectorXd(6) << 0.1, 0.0, 2.0, 0.0, 0.0, 0.0).finished();
  const Eigen::VectorXd motion = (Eigen::VectorXd(6) << 3.0, 4.0, 0.0, 3.0, 4.0, 0.5).finished();
  int calls = 0;
  ASSERT_THAT(StepInHalves(
                  1.0,
                  2,
                  [&](double h) {
                    if (h < 1.0) {
                      report.AddFeet(++calls == 1 ? loaded : 0.0 * loaded, motion, 1.0, h);
                    }
                    return h < 1.0;
                  },
                  &report),
              test::IsOk());
  EXPECT_DOUBLE_EQ(report.foot_forces[2], 1.0);
  EXPECT_THAT(std::vector<double>(report.foot_slip.begin(), report.foot_slip.end()),
              ElementsAre(5.0, 0.0));
  EXPECT_DOUBLE_EQ(report.foot_motion(0, 0), 6.0);
  EXPECT_DOUBLE_EQ(report.foot_motion(2, 1), 0.5);
}

TEST(StepToleranceTest, GrantsRoundingOnlyAfterManyIterations) {
  EXPECT_EQ(StepTolerance::DynamicsAt(1, 1e-5), StepTolerance::kDynamics);
  EXPECT_NEAR(StepTolerance::DynamicsAt(20, 1e-5), 1e-5, 1e-15);
  EXPECT_EQ(StepTolerance::DynamicsAt(20, 1.0), StepTolerance::kDynamics);
}

}  // namespace
}  // namespace gaitshelf::solver
