// The whole mechanism against other ways to the same answer: the compiled legs, whose functions
// come from closed loops at grid points and never see a loop force, and hand statics.
//
// Covers solver/replay/whole_robot.cc, solver/replay/whole_step.cc
#include <algorithm>
#include <cmath>
#include <vector>

#include <Eigen/Dense>
#include <gtest/gtest.h>

#include "solver/leg/modes.h"
#include "solver/leg/standing.h"
#include "solver/mechanism/closure.h"
#include "solver/replay/whole_step.h"
#include "solver/robot/leg_linkage.h"
#include "tests/solver/replay/whole_samples.h"
#include "tests/support/free_step.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using test::IsOk;

constexpr double kFlightS = 0.05;

// Where the released robot is after 50 ms of free flight, in the coordinates of the outline.
VectorXd FlyCompiled(const test::WholeSample& sample, int count) {
  const RobotModel& model = sample.outline;
  const double h = kFlightS / model.scale().time_s / count;
  LagrangianTerms terms;
  KnotState state;
  state.position = test::BentPosition(model);
  model.Evaluate(state.position, test::SomeVelocity(), DerivativeOrder::kFirst, &terms);
  state.momentum = terms.momentum;
  MidpointInterval interval;
  interval.Resize(14);
  for (int i = 0; i < count; ++i) {
    EXPECT_THAT(test::StepFreely(model, VectorXd::Zero(14), h, &state, &interval), IsOk());
  }
  return state.position;
}

VectorXd FlyWhole(const test::WholeSample& sample, int count) {
  const double h = kFlightS / sample.outline.scale().time_s / count;
  const VectorXd q = sample.whole.Close(test::BentPosition(sample.outline)).value();
  WholeState state =
      StartWhole(sample.whole, q, sample.whole.CloseRates(q, test::SomeVelocity()), h);
  WholeStepper stepper(&sample.whole, nullptr);
  StepReport report;
  for (int i = 0; i < count; ++i) {
    EXPECT_THAT(stepper.Step(VectorXd::Zero(8), h, &state, &report), IsOk());
  }
  return sample.whole.Outline(state.position);
}

// Both are second order and symmetric in time, so their errors have even powers of the step alone,
// and Richardson's extrapolation takes away two of them (L. F. Richardson, 1911; any text on
// numerical methods).
struct Extrapolated {
  double order = 0.0;
  VectorXd value;
};

template <typename Fly>
Extrapolated Extrapolate(const test::WholeSample& sample, const Fly& fly) {
  const VectorXd a = fly(sample, 250), b = fly(sample, 500), c = fly(sample, 1000);
  Extrapolated result;
  result.order = std::log2((a - b).norm() / (b - c).norm());
  const VectorXd first = (4.0 * b - a) / 3.0, second = (4.0 * c - b) / 3.0;
  result.value = (16.0 * second - first) / 15.0;
  return result;
}

TEST(MechanismReferenceTest, FreeFlightIsThatOfTheCompiledLegsAsStepsShrink) {
  const test::WholeSample sample = test::MakeWholeSample(0.4, true);
  const Extrapolated compiled = Extrapolate(sample, FlyCompiled);
  const Extrapolated whole = Extrapolate(sample, FlyWhole);
  EXPECT_NEAR(compiled.order, 2.0, 0.05);
  EXPECT_NEAR(whole.order, 2.0, 0.05);
  // The legs are released from up to 0.15 of the height.
  const double amplitude = test::BentPosition(sample.outline).tail(8).lpNorm<Eigen::Infinity>();
  EXPECT_LT((whole.value - compiled.value).lpNorm<Eigen::Infinity>(), 1e-6 * amplitude);
  // And they move: the comparison is not one of rest with rest.
  EXPECT_GT((whole.value - test::BentPosition(sample.outline)).tail(8).norm(), amplitude);
}

// Conditions that a standing is looked at under.
MatrixXd Conditions(const test::WholeSample& sample, const Standing& standing, const VectorXd& q) {
  const WholeRobot& whole = sample.whole;
  WholePlace place;
  VectorXd residual;
  std::vector<MatrixXd> loops;
  whole.EvaluatePlace(q, &place);
  whole.EvaluateLoops(place, &residual, &loops);
  const Index rows = whole.loop_equation_count();
  MatrixXd all =
      MatrixXd::Zero(rows + static_cast<Index>(standing.feet.size()), whole.coordinate_count());
  Index row = 0;
  for (size_t i = 0; i < loops.size(); ++i) {
    all.block(row, whole.legs()[i].first, loops[i].rows(), loops[i].cols()) = loops[i];
    row += loops[i].rows();
  }
  Eigen::Vector3d position;
  MatrixXd jacobian(3, whole.coordinate_count());
  for (const Index foot : standing.feet) {
    whole.EvaluateFoot(place, foot, &position, jacobian);
    all.row(row++) = jacobian.row(2);
  }
  return all;
}

// Frequencies of the mechanism linearised on the motions that loops and feet allow. The forces of
// both stay as they are while their directions turn, which gives part of the stiffness.
std::vector<double> WholeFrequencies(const test::WholeSample& sample, const Standing& standing) {
  const WholeRobot& whole = sample.whole;
  const Index n = whole.coordinate_count();
  const VectorXd q = whole.Close(standing.position).value();
  const auto passive_force = [&](const VectorXd& at) {
    WholePlace place;
    WholeTerms terms;
    VectorXd drive;
    whole.EvaluatePlace(at, &place);
    whole.EvaluateTerms(place, at, VectorXd::Zero(n), &terms);
    whole.DriveForce(place, standing.drive, &drive);
    return VectorXd(terms.force + drive);
  };
  const MatrixXd rows = Conditions(sample, standing, q);
  const VectorXd held = rows.transpose().completeOrthogonalDecomposition().solve(-passive_force(q));
  EXPECT_LT((passive_force(q) + rows.transpose() * held).norm(), 1e-5);
  MatrixXd stiffness(n, n), mass(n, n);
  for (Index i = 0; i < n; ++i) {
    const VectorXd step = 1e-5 * VectorXd::Unit(n, i);
    const auto total = [&](const VectorXd& at) {
      return VectorXd(passive_force(at) + Conditions(sample, standing, at).transpose() * held);
    };
    stiffness.col(i) = (total(q - step) - total(q + step)) / 2e-5;
    WholePlace place;
    WholeTerms terms;
    whole.EvaluatePlace(q, &place);
    whole.EvaluateTerms(place, q, VectorXd::Unit(n, i), &terms);
    mass.col(i) = terms.momentum;
  }
  const Eigen::FullPivLU<MatrixXd> lu(rows);
  const MatrixXd free = lu.kernel();
  const MatrixXd k = free.transpose() * stiffness * free;
  const Eigen::GeneralizedSelfAdjointEigenSolver<MatrixXd> solver(0.5 * (k + k.transpose()),
                                                                  free.transpose() * mass * free);
  std::vector<double> frequencies;
  for (const double square : solver.eigenvalues()) {
    frequencies.push_back(std::sqrt(std::max(square, 0.0)) /
                          (2.0 * M_PI * sample.outline.scale().time_s));
  }
  return frequencies;
}

class ModesReferenceTest : public ::testing::TestWithParam<FootCondition> {};

TEST_P(ModesReferenceTest, FrequenciesAreThoseOfTheCompiledLegs) {
  const test::WholeSample sample =
      test::MakeWholeSample(0.4, GetParam() == FootCondition::kFreeFlight);
  const auto standing = FindStanding(sample.outline, GetParam());
  ASSERT_THAT(standing, IsOk());
  const std::vector<Mode> modes = FindModes(sample.outline, *standing);
  const std::vector<double> whole = WholeFrequencies(sample, *standing);
  ASSERT_EQ(modes.size(), whole.size());
  EXPECT_GT(whole.back(), 90.0);
  for (size_t i = 0; i < modes.size(); ++i) {
    if (modes[i].frequency_hz > 1.0) {
      EXPECT_NEAR(whole[i], modes[i].frequency_hz, 1e-4 * modes[i].frequency_hz) << modes[i].name;
    } else {
      EXPECT_LT(whole[i], 1.0) << modes[i].name;  // nothing holds it back
    }
  }
}

INSTANTIATE_TEST_SUITE_P(FreeAndStanding,
                         ModesReferenceTest,
                         ::testing::Values(FootCondition::kFreeFlight, FootCondition::kSliding));

// Statics of the demonstration leg without weight and springs, by hand: a force F up at the foot
// stands right below the elbow, 6.5 mm from the shoulder (11, 1.2), and does not load the lower
// arm. The lift link is a bar between (8.55, 3.95) and (11.1, 2.75), so its force points along it.
// Moments about the shoulder give its size, moments about the crank's hinge (8.4, 3) the hold force
// at the pin (8, 3):
//   S |(0.1, 1.55) x e| = 6.5 F     S |(0.15, 0.95) x e| = 0.4 H     e = (2.55, -1.2) / 2.8182
TEST(MechanismReferenceTest, LoopForcesAreThoseOfHandStatics) {
  constexpr double kFoot = 4.66;
  const Eigen::Vector2d bar = Eigen::Vector2d(2.55, -1.2).normalized();
  const double bar_force = 6.5 * kFoot / std::abs(0.1 * bar[1] - 1.55 * bar[0]);
  const double hold = bar_force * std::abs(0.15 * bar[1] - 0.95 * bar[0]) / 0.4;

  const v1::Robot robot = test::ReadDemoRobot("weevil");
  const LegLinkage leg = *ReadLegLinkage(robot.legs(0).linkage());
  const LinkageDynamics dynamics(leg.linkage);
  LinkagePose pose;
  EvaluatePose(leg.linkage, VectorXd::Zero(8), &pose);
  // Unknown: two pin forces and two forces a loop; eight moments about the eight hinges.
  MatrixXd by_unknown(8, 8);
  Eigen::RowVectorXd slope;
  for (size_t i = 0; i < 2; ++i) {
    dynamics.PinTravelJacobian(pose, i, &slope);
    by_unknown.col(static_cast<Index>(i)) = slope.transpose();
  }
  VectorXd residual;
  MatrixXd loops;
  EvaluateLoops(leg.linkage, pose, &residual, &loops);
  by_unknown.rightCols(6) = loops.transpose();
  Eigen::Matrix3Xd foot;
  PointJacobian(leg.linkage, pose, leg.linkage.foot_link, leg.linkage.foot, &foot);
  const VectorXd forces = by_unknown.partialPivLu().solve(-kFoot * foot.row(2).transpose());

  EXPECT_NEAR(std::abs(forces[0]), hold, 1e-9 * hold);
  EXPECT_NEAR(forces[1], 0.0, 1e-9);
  EXPECT_NEAR(forces.segment<2>(2).norm(), 0.0, 1e-9);  // the swing's loop
  EXPECT_NEAR(forces.segment<2>(4).norm(), bar_force, 1e-9 * bar_force);
  EXPECT_NEAR(forces.segment<2>(6).norm(), 0.0, 1e-9);  // the near-parallelogram's
  EXPECT_NEAR(hold, 48.4, 0.1);
  EXPECT_NEAR(bar_force, 20.96, 0.01);
}

}  // namespace
}  // namespace gaitshelf::solver
