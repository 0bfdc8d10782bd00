#include "solver/leg/compile_leg.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "solver/leg/robot_model.h"
#include "tests/support/demo.h"
#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using ::testing::HasSubstr;

constexpr char kDemo[] = "weevil";

v1::LinkageLeg DemoLeg() { return test::ReadDemoRobot(kDemo).legs(0).linkage(); }

TEST(CompileLegTest, FitsToAMillionthFarFromSingularPostures) {
  const v1::CompiledLegReport report = CompileLeg(DemoLeg())->report();
  EXPECT_LE(report.fit_error_ratio(), 1e-6);
  EXPECT_GT(report.fit_error_ratio(), 0.0);
  EXPECT_LE(report.degree(), 10);
  // Along lift alone the loop of the lift bimorph jams at 1.90 times the range.
  EXPECT_GE(report.singularity_ratio(), 1.5);
  EXPECT_LE(report.singularity_ratio(), 1.91);
  EXPECT_GT(report.regularity_ratio(), 1.0 / 50.0);
}

TEST(CompileLegTest, RefusesARangeThatMeetsASingularPosture) {
  v1::LinkageLeg leg = DemoLeg();
  leg.mutable_lift()->set_max_rad(0.6);
  EXPECT_THAT(
      CompileLeg(leg),
      test::HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("singular posture")));
}

TEST(CompileLegTest, NamesTheLegThatCannotBeCompiled) {
  v1::Robot robot = test::ReadDemoRobot(kDemo);
  robot.mutable_legs(2)->mutable_linkage()->mutable_lift()->set_max_rad(0.6);
  EXPECT_THAT(CompileLegs(robot),
              test::HasStatus(absl::StatusCode::kFailedPrecondition,
                              HasSubstr("leg " + robot.legs(2).name() + ": ")));
}

TEST(CompileLegTest, TablesOfARobotStandInForItsCompilation) {
  const v1::Robot robot = test::ReadDemoRobot(kDemo);
  const v1::Surface surface = test::MakeSurface(0.45);
  const v1::LegTables tables = *CompileLegs(robot);
  ASSERT_EQ(tables.tables_size(), 4);
  EXPECT_EQ(tables.tables(1).report().leg(), "front-right");
  v1::LegTables kept;
  ASSERT_TRUE(kept.ParseFromString(tables.SerializeAsString()));
  const auto compiled = RobotModel::Create(robot, surface, Scale());
  const auto read = RobotModel::Create(robot, surface, Scale(), &kept);
  ASSERT_THAT(compiled, test::IsOk());
  ASSERT_THAT(read, test::IsOk());
  EXPECT_EQ(read->total_mass(), compiled->total_mass());
  EXPECT_EQ(read->compile_error_ratio(), tables.tables(0).report().fit_error_ratio());
  Eigen::VectorXd q = read->ReferencePosture();
  q.tail<8>().setConstant(1e-3);
  const Eigen::VectorXd v = Eigen::VectorXd::Constant(q.size(), 0.01);
  EXPECT_EQ(read->Energy(q, v), compiled->Energy(q, v));
}

TEST(CompileLegTest, TablesOfAnotherRobotOrFormDoNotFit) {
  const v1::Robot robot = test::ReadDemoRobot(kDemo);
  const v1::LegTables tables = *CompileLegs(robot);
  EXPECT_TRUE(TablesFit(tables, robot));
  EXPECT_TRUE(TablesFit(*CompileLegs(test::MakeQuadruped()), test::MakeQuadruped()));
  EXPECT_FALSE(TablesFit(tables, test::MakeQuadruped()));
  v1::LegTables other = tables;
  other.set_form(0);
  EXPECT_FALSE(TablesFit(other, robot));
  other = tables;
  other.mutable_tables()->RemoveLast();
  EXPECT_FALSE(TablesFit(other, robot));
  other = tables;
  other.mutable_tables(0)->mutable_report()->set_leg("tail");
  EXPECT_FALSE(TablesFit(other, robot));
  other = tables;
  other.mutable_tables(3)->mutable_function_coefficient()->RemoveLast();
  EXPECT_FALSE(TablesFit(other, robot));
  EXPECT_THAT(RobotModel::Create(robot, test::MakeSurface(0.4), Scale(), &other),
              test::HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("tables")));
}

TEST(CompileLegTest, RobotCountsTheWholeMechanism) {
  const auto model =
      RobotModel::Create(test::ReadDemoRobot(kDemo), test::MakeSurface(0.45), Scale());
  ASSERT_THAT(model, test::IsOk());
  EXPECT_EQ(model->coordinate_count(), 14);
  EXPECT_EQ(model->mechanism_coordinate_count(), 38);
  EXPECT_EQ(model->loop_equation_count(), 24);
  EXPECT_GT(model->compile_error_ratio(), 0.0);
  EXPECT_LT(model->compile_error_ratio(), 1e-6);
  EXPECT_NEAR(model->total_mass(), 1.9e-3, 1e-12);
}

}  // namespace
}  // namespace gaitshelf::solver
