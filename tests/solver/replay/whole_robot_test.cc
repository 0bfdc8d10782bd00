#include "solver/replay/whole_robot.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/solver/replay/whole_samples.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::Vector3d;
using Eigen::VectorXd;
using ::testing::AllOf;
using ::testing::HasSubstr;

class WholeRobotTest : public ::testing::Test {
 protected:
  WholeTerms Terms(const VectorXd& q, const VectorXd& v) const {
    WholePlace place;
    WholeTerms terms;
    whole_.EvaluatePlace(q, &place);
    whole_.EvaluateTerms(place, q, v, &terms);
    return terms;
  }
  // T - V: the kinetic energy is half of momentum times velocity.
  double LagrangianOf(const VectorXd& q, const VectorXd& v) const {
    return Terms(q, v).momentum.dot(v) - whole_.Energy(q, v);
  }

  test::WholeSample sample_ = test::MakeWholeSample(0.4);
  const WholeRobot& whole_ = sample_.whole;
  const RobotModel& outline_ = sample_.outline;
  VectorXd outline_q_ = test::BentPosition(outline_);
  VectorXd q_ = whole_.Close(outline_q_).value();
  VectorXd v_ = whole_.CloseRates(q_, test::SomeVelocity());
  static constexpr double kStep = 1e-6;
};

TEST_F(WholeRobotTest, HasEveryFlexureAndEveryLoop) {
  EXPECT_EQ(whole_.coordinate_count(), 38);
  EXPECT_EQ(whole_.loop_equation_count(), 24);
  EXPECT_EQ(whole_.coordinate_count(), outline_.mechanism_coordinate_count());
  EXPECT_EQ(whole_.loop_equation_count(), outline_.loop_equation_count());
  EXPECT_NEAR(whole_.total_mass(), outline_.total_mass(), 1e-14);
}

TEST_F(WholeRobotTest, ClosesLoopsAtTheCoordinatesOfTheOutline) {
  EXPECT_LT((whole_.Outline(q_) - outline_q_).norm(), 1e-14);
  EXPECT_LT((whole_.Outline(v_) - test::SomeVelocity()).norm(), 1e-13);
  WholePlace place;
  VectorXd residual, later;
  std::vector<MatrixXd> jacobian;
  whole_.EvaluatePlace(q_, &place);
  whole_.EvaluateLoops(place, &residual, &jacobian);
  EXPECT_LT(residual.norm(), 1e-11);
  // Rates keep them closed: no change of first order.
  whole_.EvaluatePlace(q_ + 1e-5 * v_, &place);
  whole_.EvaluateLoops(place, &later, &jacobian);
  EXPECT_LT(later.norm(), 1e-9);
}

TEST_F(WholeRobotTest, RefusesAPostureThatALegCannotTake) {
  outline_q_[6 + 2] = 3.0;
  EXPECT_THAT(
      whole_.Close(outline_q_),
      test::HasStatus(absl::StatusCode::kOutOfRange,
                      AllOf(HasSubstr("leg front-right cannot go to lift"), HasSubstr("rad"))));
}

TEST_F(WholeRobotTest, RefusesLumpedLegs) {
  EXPECT_FALSE(WholeRobot::Fits(test::MakeQuadruped()));
  EXPECT_TRUE(WholeRobot::Fits(sample_.robot));
  EXPECT_THAT(
      WholeRobot::Create(test::MakeQuadruped(), outline_),
      test::HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("linkages for all legs")));
}

TEST_F(WholeRobotTest, TermsAreDerivativesOfTheLagrangianLessDamping) {
  const WholeTerms terms = Terms(q_, v_);
  for (Index i = 0; i < whole_.coordinate_count(); ++i) {
    const VectorXd step = kStep * VectorXd::Unit(whole_.coordinate_count(), i);
    EXPECT_NEAR(terms.momentum[i],
                (whole_.Energy(q_, v_ + step) - whole_.Energy(q_, v_ - step)) / (2.0 * kStep),
                1e-8)
        << i;
    double force = (LagrangianOf(q_ + step, v_) - LagrangianOf(q_ - step, v_)) / (2.0 * kStep);
    for (const WholeLeg& leg : whole_.legs()) {
      const Index n = leg.dynamics.linkage().angle_count();
      if (i >= leg.first && i < leg.first + n) {
        force -= leg.dynamics.damping().row(i - leg.first).dot(v_.segment(leg.first, n));
      }
    }
    EXPECT_NEAR(terms.force[i], force, 1e-7) << i;
  }
}

TEST_F(WholeRobotTest, StopsPullBackBeyondTheTravel) {
  VectorXd beyond = VectorXd::Zero(14);
  beyond[2] = 2.0;
  beyond[6] = outline_.travels()[0].upper + 0.02;
  const VectorXd q = whole_.Close(beyond).value();
  EXPECT_NEAR(whole_.Energy(q, VectorXd::Zero(38)),
              outline_.Energy(beyond, VectorXd::Zero(14)),
              1e-5 * outline_.Energy(beyond, VectorXd::Zero(14)));
  const WholeLeg& leg = whole_.legs()[0];
  const Index lift = leg.first + leg.dynamics.linkage().independent[0];
  const VectorXd step = kStep * VectorXd::Unit(38, lift);
  EXPECT_NEAR(
      Terms(q, VectorXd::Zero(38)).force[lift],
      (LagrangianOf(q + step, VectorXd::Zero(38)) - LagrangianOf(q - step, VectorXd::Zero(38))) /
          (2.0 * kStep),
      1e-7);
}

TEST_F(WholeRobotTest, ImpedanceIsThatOfTheTermsAtRest) {
  // At rest no spring pulls and nothing moves, so that what the impedance leaves out is 0 but for
  // gravity's curvature, which is put out of the way by the outline in free fall.
  const test::WholeSample falling = test::MakeWholeSample(0.4, true);
  const WholeRobot& whole = falling.whole;
  const VectorXd q = whole.Close(falling.outline.ReferencePosture()).value();
  const VectorXd still = VectorXd::Zero(38);
  constexpr double h = 0.02;
  WholePlace place;
  ArrowBlocks impedance;
  whole.EvaluatePlace(q, &place);
  whole.EvaluateImpedance(place, q, h, &impedance);
  MatrixXd dense = MatrixXd::Zero(38, 38);
  dense.topLeftCorner(6, 6) = impedance.body;
  for (const ArrowLeg& leg : impedance.legs) {
    const Index n = leg.own.rows();
    dense.block(0, leg.first, 6, n) = leg.coupling;
    dense.block(leg.first, 0, n, 6) = leg.coupling.transpose();
    dense.block(leg.first, leg.first, n, n) = leg.own;
  }
  const auto terms_at = [&](const VectorXd& at, const VectorXd& velocity) {
    WholePlace own;
    WholeTerms terms;
    whole.EvaluatePlace(at, &own);
    whole.EvaluateTerms(own, at, velocity, &terms);
    return terms;
  };
  for (Index i = 0; i < 38; ++i) {
    const VectorXd step = kStep * VectorXd::Unit(38, i);
    const WholeTerms up_v = terms_at(q, step), down_v = terms_at(q, -step);
    const WholeTerms up_q = terms_at(q + step, still), down_q = terms_at(q - step, still);
    const VectorXd expected = (up_v.momentum - down_v.momentum) / (2.0 * kStep * h * h) -
                              (up_v.force - down_v.force) / (4.0 * kStep * h) -
                              (up_q.force - down_q.force) / (8.0 * kStep);
    EXPECT_LT((dense.col(i) - expected).lpNorm<Eigen::Infinity>(),
              1e-7 * dense.col(i).lpNorm<Eigen::Infinity>())
        << i;
  }
}

// Feet, drives and energies at postures with closed loops are those of the compiled legs, which
// were worked out another way; to the fit of these.
TEST_F(WholeRobotTest, AgreesWithTheCompiledLegs) {
  WholePlace place;
  whole_.EvaluatePlace(q_, &place);
  MatrixXd jacobian(3, 38);
  Vector3d position;
  FootKinematics kinematics;
  for (Index foot = 0; foot < 4; ++foot) {
    whole_.EvaluateFoot(place, foot, &position, jacobian);
    outline_.EvaluateFoot(outline_q_, foot, true, &kinematics);
    EXPECT_LT((position - kinematics.position).norm(), 1e-7);
    EXPECT_LT((jacobian * v_ - kinematics.jacobian * test::SomeVelocity()).norm(), 1e-6);
  }
  VectorXd force, outline_force;
  const VectorXd u = VectorXd::LinSpaced(8, -0.5, 0.6);
  whole_.DriveForce(place, u, &force);
  outline_.DriveForce(outline_q_, u, &outline_force);
  EXPECT_NEAR(force.dot(v_), outline_force.dot(test::SomeVelocity()), 1e-6);
  EXPECT_NEAR(whole_.Energy(q_, v_), outline_.Energy(outline_q_, test::SomeVelocity()), 1e-7);
  EXPECT_NEAR(whole_.DampingPower(v_),
              outline_.DampingPower(outline_q_, test::SomeVelocity()),
              1e-4 * whole_.DampingPower(v_));
}

TEST_F(WholeRobotTest, FootJacobiansAgreeWithCentralDifferences) {
  WholePlace place;
  MatrixXd jacobian(3, 38), unused(3, 38);
  Vector3d at, above, below;
  for (Index foot = 0; foot < 4; ++foot) {
    whole_.EvaluatePlace(q_, &place);
    whole_.EvaluateFoot(place, foot, &at, jacobian);
    for (Index i = 0; i < 38; ++i) {
      const VectorXd step = kStep * VectorXd::Unit(38, i);
      whole_.EvaluatePlace(q_ + step, &place);
      whole_.EvaluateFoot(place, foot, &above, unused);
      whole_.EvaluatePlace(q_ - step, &place);
      whole_.EvaluateFoot(place, foot, &below, unused);
      EXPECT_LT((jacobian.col(i) - (above - below) / (2.0 * kStep)).norm(), 1e-9);
    }
  }
}

TEST_F(WholeRobotTest, CarriesFeetOfTheBody) {
  v1::Robot robot = sample_.robot;
  test::SetVector(robot.add_body_feet()->mutable_point_m(), 0.01, 0.0, -0.004);
  const RobotModel outline = *CreateReplayModel(robot, test::MakeSurface(0.4));
  const WholeRobot whole = *WholeRobot::Create(robot, outline);
  ASSERT_EQ(whole.foot_count(), 5);
  WholePlace place;
  whole.EvaluatePlace(q_, &place);
  MatrixXd jacobian(3, 38);
  Vector3d position;
  FootKinematics kinematics;
  whole.EvaluateFoot(place, 4, &position, jacobian);
  outline.EvaluateFoot(outline_q_, 4, true, &kinematics);
  EXPECT_LT((position - kinematics.position).norm(), 1e-14);
  EXPECT_LT((jacobian.leftCols(6) - kinematics.jacobian.leftCols(6)).norm(), 1e-14);
  EXPECT_EQ(jacobian.rightCols(32).norm(), 0.0);
}

}  // namespace
}  // namespace gaitshelf::solver
