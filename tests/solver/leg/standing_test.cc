#include "solver/leg/standing.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using ::testing::HasSubstr;

constexpr double kG = 9.81;
constexpr double kMassKg = 1.9e-3;       // of MakeQuadruped with its feet
constexpr double kFootMassKg = 4e-6;     // of each foot
constexpr double kHalfForceN = 0.18;     // lift drive of MakeQuadruped: 1.8 mN/V over +-100 V
constexpr double kTransmission = -10.4;  // foot travel per tip travel

RobotModel Model(const v1::Robot& robot, double slope_rad = 0.0) {
  return *RobotModel::Create(robot, test::MakeSurface(0.45, slope_rad), Scale());
}

TEST(StandingTest, FeetShareTheWeightByTheCentreOfMass) {
  v1::Robot robot = test::MakeQuadruped();
  const double off_m = 0.003;
  test::SetVector(robot.mutable_body()->mutable_center_of_mass_m(), off_m, 0.0, 0.0);
  const RobotModel model = Model(robot);
  const auto standing = FindStanding(model, FootCondition::kSliding);
  ASSERT_THAT(standing, test::IsOk());
  ASSERT_EQ(standing->normal_load.size(), 4u);
  // Least squares over a rectangle of feet at +-a (statics, own derivation): N = m g / 4 (1 +- c /
  // a), c the centre of mass of all, to which the feet add nothing.
  const double center_m = off_m * 1.884e-3 / kMassKg;
  for (size_t i = 0; i < 4; ++i) {
    const double side = i < 2 ? 1.0 : -1.0;  // the first two feet are in front
    EXPECT_NEAR(
        standing->normal_load[i], kMassKg * kG / 4.0 * (1.0 + side * center_m / 0.015), 1e-12);
  }
}

TEST(StandingTest, DrivesHoldWhatTheFeetPressWith) {
  const RobotModel model = Model(test::MakeQuadruped());
  const auto standing = FindStanding(model, FootCondition::kSticking);
  ASSERT_THAT(standing, test::IsOk());
  // The surface lifts the foot by a quarter of the weight, the foot's own weight pulls it down.
  const double load_n = (kMassKg / 4.0 - kFootMassKg) * kG;
  EXPECT_NEAR(standing->drive[0], -load_n * kTransmission / kHalfForceN, 1e-12);
  EXPECT_NEAR(standing->drive[1], 0.0, 1e-12);
  EXPECT_LT(standing->preload.norm(), 1e-15);
  // 27 % of the drive's force: 73 % are left on all feet, 47 % on half of them.
  EXPECT_NEAR(LiftMargin(model, *standing, 1.0), 0.733, 1e-3);
  EXPECT_NEAR(LiftMargin(model, *standing, 0.5), 0.466, 1e-3);
}

TEST(StandingTest, ForcesOfFeetAndDrivesBalanceARobotWithAskewLegs) {
  const RobotModel model = Model(test::MakeHexapod());
  const auto standing = FindStanding(model, FootCondition::kSliding);
  ASSERT_THAT(standing, test::IsOk());
  EXPECT_EQ(standing->feet.size(), 6u);  // the skid is above the surface
  LagrangianTerms terms;
  model.Evaluate(standing->position,
                 Eigen::VectorXd::Zero(model.coordinate_count()),
                 DerivativeOrder::kFirst,
                 &terms);
  Eigen::VectorXd force;
  model.DriveForce(standing->position, standing->drive, &force);
  force += terms.force;
  FootKinematics kinematics;
  for (size_t i = 0; i < standing->feet.size(); ++i) {
    model.EvaluateFoot(standing->position, standing->feet[i], true, &kinematics);
    force += standing->normal_load[i] * kinematics.jacobian.row(2).transpose();
    EXPECT_GT(standing->normal_load[i], 0.0);
  }
  EXPECT_LT(force.norm(), 1e-14);
}

TEST(StandingTest, FootThatWouldPullIsTakenOffTheSurface) {
  // The centre of mass over the front feet: the least-squares answer for three rows of feet would
  // let the rear row pull (N of row x = m g / 3 (1 + 3 c x / (2 a^2)), c = a).
  v1::Robot robot = test::MakeBody(1e-3, 1e-7);
  for (const double x : {0.02, 0.0, -0.02}) {
    for (const double y : {0.01, -0.01}) {
      test::AddBodyFoot(&robot, x, y, -0.01);
    }
  }
  test::SetVector(robot.mutable_body()->mutable_center_of_mass_m(), 0.018, 0.0, 0.0);
  const auto standing = FindStanding(Model(robot), FootCondition::kSliding);
  ASSERT_THAT(standing, test::IsOk());
  double sum_n = 0.0;
  for (const double load_n : standing->normal_load) {
    EXPECT_GE(load_n, 0.0);
    sum_n += load_n;
  }
  EXPECT_NEAR(sum_n, 1e-3 * kG, 1e-14);
}

TEST(StandingTest, PassiveLiftIsPreloaded) {
  v1::Robot robot = test::MakeQuadruped();
  robot.mutable_legs(0)->mutable_lumped()->mutable_lift()->clear_bimorph();
  const RobotModel model = Model(robot);
  const auto standing = FindStanding(model, FootCondition::kSliding);
  ASSERT_THAT(standing, test::IsOk());
  EXPECT_EQ(standing->drive[0], 0.0);
  EXPECT_NEAR(standing->preload[6], -(kMassKg / 4.0 - kFootMassKg) * kG, 1e-12);
}

TEST(StandingTest, ClampedBodyNeedsOnlyItsFeetHeld) {
  const RobotModel model = Model(test::MakeQuadruped());
  const auto standing = FindStanding(model, FootCondition::kClamped);
  ASSERT_THAT(standing, test::IsOk());
  EXPECT_TRUE(standing->feet.empty());
  EXPECT_NEAR(standing->drive[0], kFootMassKg * kG * kTransmission / kHalfForceN, 1e-12);
}

TEST(StandingTest, RefusesWhatCannotStand) {
  v1::Robot robot = test::MakeQuadruped();
  test::SetVector(robot.mutable_body()->mutable_center_of_mass_m(), 0.02, 0.0, 0.0);
  EXPECT_THAT(FindStanding(Model(robot), FootCondition::kSliding),
              test::HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("centre of mass")));
  EXPECT_THAT(FindStanding(Model(test::MakeQuadruped(), 0.1), FootCondition::kSticking),
              test::HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("cannot stand")));
  robot.mutable_body()->set_support(v1::BODY_SUPPORT_CLAMPED);
  EXPECT_THAT(FindStanding(Model(robot), FootCondition::kSliding),
              test::HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("clamped")));
  EXPECT_THAT(FindStanding(Model(test::MakeBody(1e-3, 1e-7)), FootCondition::kSliding),
              test::HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("no foot")));
}

TEST(StandingTest, ReachIsTheShortestSwingTravelOverTheDuty) {
  v1::Robot robot = test::MakeQuadruped();
  // A body that passes evenly over a foot for half the cycle moves half the advance meanwhile:
  // 9 mm of travel give 18 mm.
  EXPECT_NEAR(AdvanceReach(Model(robot), 0.5), 0.018, 1e-12);
  EXPECT_NEAR(AdvanceReach(Model(robot), 0.75), 0.012, 1e-12);
  robot.mutable_legs(2)->mutable_lumped()->mutable_swing()->set_max_m(0.0015);
  EXPECT_NEAR(AdvanceReach(Model(robot), 0.5), 0.012, 1e-12);
  // 0.96 of the travel of an askew leg lies along the body.
  EXPECT_NEAR(AdvanceReach(Model(test::MakeHexapod()), 0.5), 0.96 * 0.018, 1e-12);
  EXPECT_EQ(AdvanceReach(Model(test::MakeBody(1e-3, 1e-7)), 0.5), 0.0);
}

}  // namespace
}  // namespace gaitshelf::solver
