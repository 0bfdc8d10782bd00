// Modes of described robots against chains of masses and springs.
#include "solver/leg/modes.h"

#include <cmath>
#include <vector>

#include <gtest/gtest.h>

#include "solver/robot/check.h"
#include "tests/reference/linkage_legs.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Vector3d;
using test::IsOk;
using test::LinkMass;

constexpr double kInertia = 1e-4;   // kg m^2
constexpr double kStiffness = 0.1;  // N m/rad

// Two wheels, the second on an axle that the first carries: the first held to the body by a spring,
// the second to the first, and, if wanted, by a bimorph to the body. The second has next to no
// mass, so that only turning counts, as if both had one axle.
v1::Robot TwoWheels(double first_inertia, double first_spring, double second_spring, double last) {
  v1::LinkageLeg* leg = nullptr;
  v1::Robot robot = test::MakeBench(&leg);
  const Vector3d axis(0.0, -1.0, 0.0);
  const Vector3d axle(0.1, 0.0, 0.0);
  test::AddLink(leg,
                "first",
                "body",
                Vector3d::Zero(),
                axis,
                LinkMass{1e-3, Vector3d::Zero(), first_inertia * kInertia})
      ->mutable_bending()
      ->set_stiffness_n_m_per_rad(first_spring * kStiffness);
  test::AddLink(leg, "second", "first", axle, axis, LinkMass{1e-9, axle, kInertia})
      ->mutable_bending()
      ->set_stiffness_n_m_per_rad(second_spring * kStiffness);
  leg->set_foot_link("second");
  test::SetVector(leg->mutable_foot_m(), 0.1, 0.0, -0.1);
  test::SetCoordinate(leg->mutable_lift(), "first", -0.3, 0.3);
  test::SetCoordinate(leg->mutable_swing(), "second", -0.3, 0.3);
  if (last > 0.0) {
    constexpr double kArmM = 0.05;
    v1::LinkageDrive* drive = leg->mutable_swing()->mutable_drive();
    drive->set_link("second");
    // Below the axle, which the first wheel moves upwards only.
    test::SetVector(drive->mutable_pin_m(), axle - Vector3d(0.0, 0.0, kArmM));
    test::SetVector(drive->mutable_direction_ratio(), 1.0, 0.0, 0.0);
    *drive->mutable_bimorph() = test::MakeLift().bimorph();
    drive->mutable_bimorph()->set_moving_mass_kg(0.0);
    drive->mutable_bimorph()->set_stiffness_n_per_m(last * kStiffness / (kArmM * kArmM));
  }
  return robot;
}

std::vector<Mode> ModesOf(const v1::Robot& robot, FootCondition condition) {
  EXPECT_THAT(ToStatus(CheckRobot(robot)), IsOk());
  RobotModel model = RobotModel::Create(robot, test::MakeSurface(0.5), Scale()).value();
  if (condition == FootCondition::kFreeFlight) {
    model = model.InFreeFall();
  }
  return FindModes(model, FindStanding(model, condition).value());
}

// K = [[6, -2], [-2, 4]], M = diag(2, 1): squares 2 and 5 (by hand). Springs 4 to the first wheel,
// 2 between, 2 from the second to the body.
TEST(ChainTest, TwoWheelsHaveTheSquaresTwoAndFive) {
  const std::vector<Mode> modes = ModesOf(TwoWheels(2.0, 4.0, 2.0, 2.0), FootCondition::kClamped);
  ASSERT_EQ(modes.size(), 2u);
  for (size_t i = 0; i < 2; ++i) {
    const double omega = 2.0 * M_PI * modes[i].frequency_hz;
    // The fit of the compiled leg is good to 1e-6 of a function's greatest value.
    EXPECT_NEAR(omega * omega * kInertia / kStiffness, i == 0 ? 2.0 : 5.0, 1e-5);
  }
}

// A chain of n equal parts, one end held: 2 sqrt(k / m) sin((2 j - 1) pi / (2 (2 n + 1))); here n =
// 2. Elementary, from memory. A leg has two coordinates, so a longer chain cannot be described.
TEST(ChainTest, TwoEqualWheelsHaveTheFrequenciesOfAFixedFreeChain) {
  const std::vector<Mode> modes = ModesOf(TwoWheels(1.0, 1.0, 1.0, 0.0), FootCondition::kClamped);
  ASSERT_EQ(modes.size(), 2u);
  for (size_t i = 0; i < 2; ++i) {
    const double j = static_cast<double>(i) + 1.0;
    EXPECT_NEAR(2.0 * M_PI * modes[i].frequency_hz * std::sqrt(kInertia / kStiffness),
                2.0 * std::sin((2.0 * j - 1.0) * M_PI / 10.0),
                1e-5);
  }
}

// The body between two feet on swing springs is a chain of three equal masses with free ends: 0, 1
// and sqrt(3) times sqrt(k / m), by 2 sqrt(k / m) sin(j pi / (2 n)). Elementary, from memory.
TEST(ChainTest, BodyBetweenTwoFeetIsAFreeChainOfThree) {
  constexpr double kMassKg = 1e-3;
  constexpr double kSpring = 50.0;
  v1::Robot robot = test::MakeBody(kMassKg, 1e-6);
  test::SetLegController(&robot);
  for (const double x : {0.02, -0.02}) {
    v1::LumpedLeg* leg = test::AddLeg(&robot, x, 0.0, 0.0)->mutable_lumped();
    leg->set_foot_mass_kg(kMassKg);
    for (v1::LegCoordinate* coordinate : {leg->mutable_lift(), leg->mutable_swing()}) {
      coordinate->clear_bimorph();
      coordinate->set_transmission_ratio(0.0);
      coordinate->set_moving_mass_kg(0.0);
      coordinate->set_damping_n_s_per_m(0.0);
    }
    leg->mutable_swing()->set_stiffness_n_per_m(kSpring);
    leg->mutable_lift()->set_stiffness_n_per_m(1e4);
  }
  const std::vector<Mode> modes = ModesOf(robot, FootCondition::kFreeFlight);
  ASSERT_EQ(modes.size(), 10u);
  // As many zeros as there are motions of the whole: true mechanisms have none besides.
  for (size_t i = 0; i < 6; ++i) {
    EXPECT_EQ(modes[i].frequency_hz, 0.0) << i;
  }
  const double unit = std::sqrt(kSpring / kMassKg) / (2.0 * M_PI);
  EXPECT_NEAR(modes[6].frequency_hz / unit, 1.0, 1e-9);
  EXPECT_EQ(modes[6].name, "swing");
  EXPECT_NEAR(modes[7].frequency_hz / unit, std::sqrt(3.0), 1e-9);
}

}  // namespace
}  // namespace gaitshelf::solver
