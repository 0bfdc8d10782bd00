#include "solver/replay/contact_step.h"

#include <cmath>
#include <limits>

#include <gtest/gtest.h>

#include "tests/solver/replay/made_gaits.h"
#include "tests/support/free_step.h"
#include "tests/support/robots.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

RobotModel Quadruped(double friction) {
  Scale scale;
  scale.length_m = 0.011;
  scale.mass_kg = 1.9e-3;
  scale.time_s = std::sqrt(0.011 / kGravityMPerS2);
  return *RobotModel::Create(test::MakeQuadruped(), test::MakeSurface(friction), scale);
}

VectorXd HoldDrive() {
  VectorXd u(8);
  for (Index i = 0; i < 8; ++i) {
    u[i] = (test::HoldVoltage(i % 2 == 0) - 100.0) / 100.0;
  }
  return u;
}

TEST(ContactStepperTest, StandsStillUnderHoldingVoltageAtAnyStep) {
  const RobotModel model = Quadruped(0.45);
  ContactStepper stepper(&model);
  const VectorXd rest = model.ReferencePosture();
  ReplayState state = StartAfterInterval(model, rest, rest, 0.01);
  StepReport report;
  // Changes of the step must not kick the robot.
  for (const double h : {0.01, 0.01, 0.005, 0.02, 0.003, 0.003, 0.01}) {
    ASSERT_TRUE(stepper.Step(HoldDrive(), h, &state, &report).ok());
    EXPECT_LT((state.knot.position - rest).norm(), 1e-9) << h;
    for (Index foot = 0; foot < 4; ++foot) {
      EXPECT_NEAR(report.foot_forces[3 * foot + 2], 0.25, 1e-6) << h;
    }
  }
}

TEST(ContactStepperTest, IsTheFreeStepInTheAir) {
  const RobotModel model = Quadruped(0.45);
  ContactStepper stepper(&model);
  VectorXd q = model.ReferencePosture();
  q[2] += 1.0;
  q[7] = 0.1;
  const VectorXd v = VectorXd::LinSpaced(14, -0.3, 0.4);
  ReplayState state = StartWithVelocity(model, q, v, 0.005);
  KnotState free = state.knot;
  StepReport report;
  MidpointInterval interval;
  interval.Resize(14);
  VectorXd drive;
  for (int i = 0; i < 20; ++i) {
    model.DriveForce(free.position, HoldDrive(), &drive);
    ASSERT_TRUE(stepper.Step(HoldDrive(), 0.005, &state, &report).ok());
    ASSERT_TRUE(test::StepFreely(model, drive, 0.005, &free, &interval).ok());
    ASSERT_EQ(report.foot_forces.norm(), 0.0);
    ASSERT_LT((state.knot.position - free.position).norm(), 1e-9);
  }
}

TEST(ContactStepperTest, BooksEveryKindOfWork) {
  // Work of the drives = gain of energy + damping + loss in contact, to the order of the step.
  const RobotModel model = Quadruped(0.3);
  ContactStepper stepper(&model);
  const VectorXd rest = model.ReferencePosture();
  ReplayState state = StartAfterInterval(model, rest, rest, 0.002);
  StepReport report;
  double drive = 0.0, damping = 0.0, contact = 0.0, turnover = 0.0;
  const double start = model.Energy(state.knot.position, state.velocity);
  for (int i = 0; i < 2000; ++i) {
    VectorXd u = HoldDrive();
    u[1] += 0.5 * std::sin(0.02 * i);
    u[2] += 0.2 * std::sin(0.05 * i);
    ASSERT_TRUE(stepper.Step(u, 0.002, &state, &report).ok());
    EXPECT_GE(report.damping_loss, 0.0);
    drive += report.drive_work;
    turnover += std::abs(report.drive_work);
    damping += report.damping_loss;
    contact += report.contact_work;
  }
  EXPECT_LT(contact, 0.0);
  const double gain = model.Energy(state.knot.position, state.velocity) - start;
  EXPECT_NEAR(drive - damping + contact, gain, 0.01 * turnover);
}

TEST(ContactStepperTest, DropsWithoutBounce) {
  const RobotModel model = Quadruped(0.45);
  ContactStepper stepper(&model);
  VectorXd q = model.ReferencePosture();
  q[2] += 0.1;
  ReplayState state = StartWithVelocity(model, q, VectorXd::Zero(14), 0.005);
  StepReport report;
  bool has_landed = false;
  for (int i = 0; i < 200; ++i) {
    ASSERT_TRUE(stepper.Step(HoldDrive(), 0.005, &state, &report).ok());
    if (report.foot_forces[2] > 0.0) {
      // The foot stays where it has landed while it is under load.
      EXPECT_LE(std::abs(report.foot_motion(2, 0)), StepTolerance::kContact);
      has_landed = true;
    }
  }
  EXPECT_TRUE(has_landed);
}

TEST(ContactStepperTest, ReportsAStepThatDoesNotConverge) {
  const RobotModel model = Quadruped(0.45);
  ContactStepper stepper(&model);
  const VectorXd rest = model.ReferencePosture();
  ReplayState state = StartAfterInterval(model, rest, rest, 0.01);
  StepReport report;
  const VectorXd u = VectorXd::Constant(8, std::numeric_limits<double>::quiet_NaN());
  EXPECT_EQ(stepper.Step(u, 0.01, &state, &report).code(), absl::StatusCode::kInternal);
}

}  // namespace
}  // namespace gaitshelf::solver
