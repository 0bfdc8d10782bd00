#include "solver/replay/whole_step.h"

#include <cmath>
#include <limits>

#include <Eigen/Geometry>
#include <gtest/gtest.h>

#include "solver/leg/standing.h"
#include "tests/solver/replay/whole_samples.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::Vector3d;
using Eigen::VectorXd;
using test::IsOk;

const VectorXd kNoDrive = VectorXd::Zero(8);

double LoopResidual(const WholeRobot& robot, const VectorXd& q) {
  WholePlace place;
  VectorXd residual;
  std::vector<Eigen::MatrixXd> jacobian;
  robot.EvaluatePlace(q, &place);
  robot.EvaluateLoops(place, &residual, &jacobian);
  return residual.lpNorm<Eigen::Infinity>();
}

WholeState Bent(const test::WholeSample& sample, double h) {
  const VectorXd q = sample.whole.Close(test::BentPosition(sample.outline)).value();
  return StartWhole(sample.whole, q, sample.whole.CloseRates(q, test::SomeVelocity()), h);
}

// Momentum along the axes and about the vertical through the origin, which the midpoint rule keeps
// to the last digit: in these coordinates both symmetries are shifts and plane turns.
Eigen::Vector4d KeptMomentum(const WholeState& state) {
  Eigen::Vector4d kept;
  kept.head<3>() = state.momentum.head<3>();
  kept[3] = state.position[0] * state.momentum[1] - state.position[1] * state.momentum[0] +
            state.momentum[5];
  return kept;
}

TEST(WholeStepperTest, KeepsMomentumAndLoopsInFreeFlight) {
  const test::WholeSample sample = test::MakeWholeSample(0.4, true);
  WholeStepper stepper(&sample.whole, nullptr);
  WholeState state = Bent(sample, 0.004);
  const Eigen::Vector4d start = KeptMomentum(state);
  StepReport report;
  for (int i = 0; i < 300; ++i) {
    ASSERT_THAT(stepper.Step(kNoDrive, 0.004, &state, &report), IsOk());
    EXPECT_LE(report.dynamics_residual, StepTolerance::kDynamics);
    EXPECT_LE(LoopResidual(sample.whole, state.position), WholeStepper::kLoopTolerance);
  }
  // 300 steps of at most the tolerance each.
  EXPECT_LT((KeptMomentum(state) - start).norm(), 300 * 0.004 * 2.0 * StepTolerance::kDynamics);
  EXPECT_GT(start.norm(), 0.1);
}

// Work of the drives less loss in flexures less gain of energy, from the middle of the first step
// to the middle of each later one: a step knows its velocity in its middle. The greatest of all.
struct Balance {
  double gap = 0.0;
  double turnover = 0.0;
};

Balance BalanceOfFlight(const test::WholeSample& sample, double h) {
  WholeStepper stepper(&sample.whole, nullptr);
  WholeState state = Bent(sample, h);
  StepReport report;
  Balance balance;
  double input = 0.0;  // since the middle of the first step
  double start = 0.0;
  const int count = static_cast<int>(std::lround(1.2 / h));
  for (int i = 0; i < count; ++i) {
    const VectorXd before = state.position;
    const VectorXd u = VectorXd::LinSpaced(8, -0.4, 0.5) * std::sin(3.0 * i * h);
    const double half_lost = 0.5 * report.damping_loss;
    EXPECT_THAT(stepper.Step(u, h, &state, &report), IsOk());
    const double energy = sample.whole.Energy(0.5 * (before + state.position), state.velocity);
    EXPECT_GT(report.damping_loss, 0.0);
    EXPECT_EQ(report.contact_work, 0.0);
    if (i == 0) {
      start = energy;
      continue;
    }
    input += report.drive_work - half_lost - 0.5 * report.damping_loss;
    balance.turnover += std::abs(report.drive_work);
    balance.gap = std::max(balance.gap, std::abs(input - (energy - start)));
  }
  return balance;
}

TEST(WholeStepperTest, ClosesTheBalanceOfEnergyToSecondOrder) {
  const test::WholeSample sample = test::MakeWholeSample(0.4, true);
  const Balance coarse = BalanceOfFlight(sample, 0.002);
  const Balance fine = BalanceOfFlight(sample, 0.001);
  EXPECT_LT(fine.gap, 1e-3 * fine.turnover);
  EXPECT_NEAR(std::log2(coarse.gap / fine.gap), 2.0, 0.2) << coarse.gap << " " << fine.gap;
}

class StandingTest : public ::testing::Test {
 protected:
  StandingTest() : standing_(*FindStanding(sample_.outline, FootCondition::kSliding)) {}

  WholeState Start(double h, double raised = 0.0) const {
    VectorXd position = standing_.position;
    position[2] += raised;
    const VectorXd q = sample_.whole.Close(position).value();
    return StartWholeAfterInterval(sample_.whole, q, q, h);
  }

  test::WholeSample sample_ = test::MakeWholeSample(0.45);
  Standing standing_;
};

TEST_F(StandingTest, StandsStillUnderHoldingDrivesAtAnyStep) {
  // The drives were found on the compiled legs, whose fit of the forces is good to 1e-6 or so.
  WholeStepper stepper(&sample_.whole, nullptr);
  WholeState state = Start(0.01);
  const VectorXd start = state.position;
  StepReport report;
  for (const double h : {0.01, 0.01, 0.005, 0.02, 0.003, 0.003, 0.01}) {
    ASSERT_THAT(stepper.Step(standing_.drive, h, &state, &report), IsOk());
    EXPECT_LT((state.position - start).norm(), 1e-5) << h;
    double load = 0.0;
    for (Index foot = 0; foot < 4; ++foot) {
      load += report.foot_forces[3 * foot + 2];
    }
    EXPECT_NEAR(load, 1.0, 1e-4) << h;
  }
}

// Statics of the demonstration leg in its straight posture, by hand (own derivation). Through the
// near-parallelogram the foot's load F comes to the elbow (y = 17.5 mm, the foot stands right below
// it), less the weights of shank and half the lower arm. About the shoulder (11, 1.2) it has the
// moment 6.5 mm, the upper arm's weight 3.25 mm. The lift link is pulled or pushed along its line
// from (8.55, 3.95) to (11.1, 2.75), which passes the shoulder at
//   |(0.1, 1.55) x (2.55, -1.2)| / |(2.55, -1.2)| = 1.4452 mm.
TEST_F(StandingTest, LoopForcesAreThoseOfStatics) {
  constexpr double kG = 9.81;
  const double foot_n = 0.25 * 1.9e-3 * kG;
  const double elbow_n = foot_n - 4e-6 * kG - 0.5 * 2.5e-6 * kG;
  const double expected_n = (6.5 * elbow_n - 3.25 * 3e-6 * kG) / 1.4452;
  EXPECT_NEAR(expected_n, 20.66e-3, 1e-5);
  for (const double before : {0.005, 0.01}) {  // the step that was made last
    MechanismLoads loads(&sample_.whole, sample_.outline.scale());
    WholeState state = Start(before);
    StepReport report;
    ASSERT_THAT(
        WholeStepper(&sample_.whole, nullptr).Step(standing_.drive, before, &state, &report),
        IsOk());
    ASSERT_THAT(WholeStepper(&sample_.whole, &loads).Step(standing_.drive, 0.005, &state, &report),
                IsOk());
    const v1::MechanismReport mechanism = loads.Report();
    EXPECT_EQ(mechanism.most_loaded().flexure(), "g");
    // The lift link's own weight, 0.012 mN, bears on both of its ends.
    EXPECT_NEAR(mechanism.most_loaded().force_n(), expected_n, 2e-5) << before;
  }
}

TEST_F(StandingTest, DropsWithoutBounce) {
  WholeStepper stepper(&sample_.whole, nullptr);
  WholeState state = Start(0.005, 0.05);
  StepReport report;
  bool has_landed = false;
  for (int i = 0; i < 150; ++i) {
    ASSERT_THAT(stepper.Step(standing_.drive, 0.005, &state, &report), IsOk());
    EXPECT_GE(report.foot_motion.row(2).minCoeff(), -StepTolerance::kContact);
    if (report.foot_forces[2] > 0.0) {
      EXPECT_LE(std::abs(report.foot_motion(2, 0)), StepTolerance::kContact);
      has_landed = true;
    }
  }
  EXPECT_TRUE(has_landed);
  EXPECT_LE(LoopResidual(sample_.whole, state.position), WholeStepper::kLoopTolerance);
}

TEST_F(StandingTest, BooksEveryKindOfWork) {
  WholeStepper stepper(&sample_.whole, nullptr);
  WholeState state = Start(0.002);
  StepReport report;
  double drive = 0.0, damping = 0.0, contact = 0.0, turnover = 0.0;
  const double start = sample_.whole.Energy(state.position, state.velocity);
  for (int i = 0; i < 1000; ++i) {
    VectorXd u = standing_.drive;
    u[1] += 0.5 * std::sin(0.02 * i);
    u[2] += 0.2 * std::sin(0.05 * i);
    ASSERT_THAT(stepper.Step(u, 0.002, &state, &report), IsOk());
    drive += report.drive_work;
    turnover += std::abs(report.drive_work);
    damping += report.damping_loss;
    contact += report.contact_work;
  }
  EXPECT_LT(contact, 0.0);
  const double gain = sample_.whole.Energy(state.position, state.velocity) - start;
  EXPECT_NEAR(drive - damping + contact, gain, 0.01 * turnover);
}

TEST_F(StandingTest, ReportsAStepThatDoesNotConverge) {
  WholeStepper stepper(&sample_.whole, nullptr);
  WholeState state = Start(0.01);
  StepReport report;
  const VectorXd u = VectorXd::Constant(8, std::numeric_limits<double>::quiet_NaN());
  EXPECT_EQ(stepper.Step(u, 0.01, &state, &report).code(), absl::StatusCode::kInternal);
}

TEST_F(StandingTest, AnIntervalHandsItsMomentumOn) {
  // Falling on from an interval is falling on.
  WholeStepper stepper(&sample_.whole, nullptr);
  WholeState state = Start(0.004, 3.0);
  StepReport report;
  const VectorXd hold = standing_.drive;
  ASSERT_THAT(stepper.Step(hold, 0.004, &state, &report), IsOk());
  const VectorXd before = state.position;
  ASSERT_THAT(stepper.Step(hold, 0.004, &state, &report), IsOk());
  const WholeState again = StartWholeAfterInterval(sample_.whole, before, state.position, 0.004);
  EXPECT_LT((again.momentum - state.momentum).norm(), 1e-9);
  EXPECT_LT((again.velocity - state.velocity).norm(), 1e-12);
}

}  // namespace
}  // namespace gaitshelf::solver
