#include "solver/leg/modes.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "solver/base/constants.h"
#include "tests/support/free_step.h"
#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using ::testing::ElementsAre;

constexpr double kG = 9.81;
// MakeQuadruped as its feet feel it; tip mass and stiffness go with the square of the transmission.
constexpr double kBodyMassKg = 1.884e-3;
constexpr double kFootMassKg = 4e-6;
constexpr double kLiftMassKg = 1.92e-6 + 20e-6 / (10.4 * 10.4);  // moves with the lift, no foot
constexpr double kLiftNPerM = 1.36 + 90.0 / (10.4 * 10.4);
constexpr double kSwingMassKg = 2.85e-6 + 20e-6 / (12.3 * 12.3);
constexpr double kSwingNPerM = 1.063 + 200.0 / (12.3 * 12.3);
constexpr double kFootYM = 0.0175;
constexpr double kHeightM = 0.011;

double Hertz(double stiffness, double mass) { return std::sqrt(stiffness / mass) / (2.0 * kPi); }

Scale NaturalScale() {
  Scale scale;
  scale.length_m = kHeightM;
  scale.mass_kg = 1.9e-3;
  scale.time_s = std::sqrt(kHeightM / kG);
  return scale;
}

RobotModel Model(const v1::Robot& robot, const Scale& scale = NaturalScale()) {
  return *RobotModel::Create(robot, test::MakeSurface(0.45), scale);
}

std::vector<Mode> Modes(const v1::Robot& robot,
                        FootCondition condition,
                        const Scale& scale = NaturalScale()) {
  RobotModel model = Model(robot, scale);
  if (condition == FootCondition::kFreeFlight) {
    model = model.InFreeFall();
  }
  const auto standing = FindStanding(model, condition);
  EXPECT_THAT(standing, test::IsOk());
  return standing.ok() ? FindModes(model, *standing) : std::vector<Mode>();
}

// The mode whose largest part is the motion; there must be one.
const Mode& Find(const std::vector<Mode>& modes, const std::string& motion) {
  const auto at = std::find_if(modes.begin(), modes.end(), [&](const Mode& mode) {
    return mode.frequency_hz > 0.0 && mode.name.rfind(motion, 0) == 0;
  });
  EXPECT_NE(at, modes.end()) << motion;
  return at == modes.end() ? modes.front() : *at;
}

TEST(ModesTest, LegOfAClampedBodyIsAnOscillator) {
  const std::vector<Mode> modes = Modes(test::MakeQuadruped(), FootCondition::kClamped);
  ASSERT_EQ(modes.size(), 8u);
  // One mass on one spring: omega^2 = k / m, damping ratio c / (2 sqrt(k m)) (textbook, from
  // memory).
  const double swing_kg = kFootMassKg + kSwingMassKg;
  const double lift_kg = kFootMassKg + kLiftMassKg;
  for (size_t i = 0; i < 8; ++i) {
    const bool is_swing = i < 4;
    const double hertz = is_swing ? Hertz(kSwingNPerM, swing_kg) : Hertz(kLiftNPerM, lift_kg);
    EXPECT_EQ(modes[i].name, is_swing ? "swing" : "lift");
    EXPECT_NEAR(modes[i].frequency_hz, hertz, 1e-9 * hertz);
    const double critical =
        is_swing ? 2.0 * std::sqrt(kSwingNPerM * swing_kg) : 2.0 * std::sqrt(kLiftNPerM * lift_kg);
    EXPECT_NEAR(modes[i].damping_ratio, (is_swing ? 8.5e-5 : 1.09e-4) / critical, 1e-11);
    // Equal legs ring on their own.
    EXPECT_EQ((modes[i].shape.array().abs() > 1e-9 * modes[i].shape.norm()).count(), 1);
  }
  EXPECT_EQ(HighestFrequency(modes), modes[7].frequency_hz);
}

TEST(ModesTest, ClampedRobotHasTheModesOfAClampedBody) {
  v1::Robot robot = test::MakeQuadruped();
  const std::vector<Mode> free = Modes(robot, FootCondition::kClamped);
  robot.mutable_body()->set_support(v1::BODY_SUPPORT_CLAMPED);
  const std::vector<Mode> clamped = Modes(robot, FootCondition::kClamped);
  ASSERT_EQ(clamped.size(), free.size());
  for (size_t i = 0; i < free.size(); ++i) {
    EXPECT_NEAR(clamped[i].frequency_hz, free[i].frequency_hz, 1e-9);
  }
}

TEST(ModesTest, TwoFeetOnABodyAreAFreeChainOfThreeMasses) {
  // Three masses m in a row on two springs k: omega^2 = 0, k/m, 3 k/m (textbook; recomputed with an
  // eigensolver in another language: 0, 1, 1.7320508).
  v1::Robot robot = test::MakeBody(1e-3, 1e-7);
  for (const double x : {0.01, -0.01}) {
    v1::LumpedLeg* leg = test::AddLeg(&robot, x, 0.0, 0.0)->mutable_lumped();
    leg->set_foot_mass_kg(1e-3);
    for (v1::LegCoordinate* coordinate : {leg->mutable_lift(), leg->mutable_swing()}) {
      coordinate->clear_bimorph();
      coordinate->set_moving_mass_kg(0.0);
    }
    leg->mutable_swing()->set_stiffness_n_per_m(2.0);
    leg->mutable_lift()->set_stiffness_n_per_m(50.0);
  }
  const std::vector<Mode> modes = Modes(robot, FootCondition::kFreeFlight);
  ASSERT_EQ(modes.size(), 10u);
  for (const double factor : {1.0, 3.0}) {
    const double hertz = Hertz(2.0 * factor, 1e-3);
    EXPECT_TRUE(std::any_of(modes.begin(), modes.end(), [&](const Mode& mode) {
      return std::abs(mode.frequency_hz - hertz) < 1e-9 * hertz;
    })) << hertz;
  }
}

TEST(ModesTest, CoupledLegHasTheRootsOfItsCharacteristicPolynomial) {
  // Lift and swing at 60 degrees share the foot's mass: M = [m + a, m/2; m/2, m + b], K = diag.
  v1::Robot robot = test::MakeQuadruped();
  const double c = 0.5, s = std::sqrt(0.75);
  for (v1::Leg& leg : *robot.mutable_legs()) {
    test::SetVector(leg.mutable_lumped()->mutable_swing()->mutable_direction_ratio(), s, 0.0, c);
  }
  const double m00 = kFootMassKg + kLiftMassKg, m11 = kFootMassKg + kSwingMassKg;
  const double m01 = kFootMassKg * c;
  // (k0 - w m00)(k1 - w m11) - w^2 m01^2 = 0
  const double a = m00 * m11 - m01 * m01;
  const double b = -(kLiftNPerM * m11 + kSwingNPerM * m00);
  const double root = std::sqrt(b * b - 4.0 * a * kLiftNPerM * kSwingNPerM);
  const std::vector<Mode> modes = Modes(robot, FootCondition::kClamped);
  ASSERT_EQ(modes.size(), 8u);
  const double low = std::sqrt((-b - root) / (2.0 * a)) / (2.0 * kPi);
  const double high = std::sqrt((-b + root) / (2.0 * a)) / (2.0 * kPi);
  EXPECT_NEAR(modes.front().frequency_hz, low, 1e-9 * low);
  EXPECT_NEAR(modes.back().frequency_hz, high, 1e-9 * high);
}

TEST(ModesTest, SlidingFeetLeaveSurgeSwayAndYawFree) {
  const std::vector<Mode> modes = Modes(test::MakeQuadruped(), FootCondition::kSliding);
  ASSERT_EQ(modes.size(), 10u);  // 14 coordinates, 4 heights held
  std::vector<std::string> free;
  for (const Mode& mode : modes) {
    EXPECT_FALSE(mode.is_unstable);
    double sum = 0.0;
    for (const double share : mode.energy_share) {
      sum += share;
    }
    EXPECT_NEAR(sum, 1.0, 1e-12);
    if (mode.frequency_hz == 0.0) {
      free.push_back(mode.name);
    }
  }
  EXPECT_THAT(free, testing::UnorderedElementsAre("surge", "sway", "yaw"));
}

TEST(ModesTest, HeaveOnSlidingFeetIsTheBodyOnItsLifts) {
  // The feet rest, the body and what moves with the lifts go up and down on four springs (own
  // derivation).
  const double hertz = Hertz(4.0 * kLiftNPerM, kBodyMassKg + 4.0 * kLiftMassKg);
  const Mode heave = Find(Modes(test::MakeQuadruped(), FootCondition::kSliding), "heave");
  EXPECT_NEAR(heave.frequency_hz, hertz, 1e-9 * hertz);
  EXPECT_EQ(heave.name, "heave");
}

TEST(ModesTest, RollCarriesTheWeightsOwnStiffness) {
  // Own derivation: lift l = -y phi - h phi^2 / 2, so that the body's weight takes M g h off the
  // springs' 4 k y^2. Feet under the body go sideways by h phi; on sliding feet the body gives way.
  const double stiffness = 4.0 * kLiftNPerM * kFootYM * kFootYM - kBodyMassKg * kG * kHeightM;
  const double inertia = 6.11955e-8 + 4.0 * kLiftMassKg * kFootYM * kFootYM;
  const double feet_kg = 4.0 * kFootMassKg;
  const double reduced_kg = kBodyMassKg * feet_kg / (kBodyMassKg + feet_kg);
  const double sliding = Hertz(stiffness, inertia + reduced_kg * kHeightM * kHeightM);
  const Mode roll = Find(Modes(test::MakeQuadruped(), FootCondition::kSliding), "roll");
  EXPECT_NEAR(roll.frequency_hz, sliding, 1e-9 * sliding);
  // On sticking feet the body rolls about the ground line: half the frequency.
  const double sticking = Hertz(stiffness, inertia + kBodyMassKg * kHeightM * kHeightM);
  const Mode tilt = Find(Modes(test::MakeQuadruped(), FootCondition::kSticking), "sway");
  EXPECT_NEAR(tilt.frequency_hz, sticking, 1e-9 * sticking);
  EXPECT_EQ(tilt.name, "sway-roll");
}

TEST(ModesTest, FeetThatOverDetermineThePostureLeaveTheirNullSpace) {
  // 12 conditions of rank 10 on 14 coordinates: x and z of each foot, sway with roll, yaw.
  const std::vector<Mode> modes = Modes(test::MakeQuadruped(), FootCondition::kSticking);
  ASSERT_EQ(modes.size(), 4u);
  for (const Mode& mode : modes) {
    EXPECT_GT(mode.frequency_hz, 5.0) << mode.name;
  }
}

TEST(ModesTest, FreeFlightHasSixRigidMotionsAtRest) {
  const std::vector<Mode> modes = Modes(test::MakeQuadruped(), FootCondition::kFreeFlight);
  ASSERT_EQ(modes.size(), 14u);
  for (size_t i = 0; i < 14; ++i) {
    EXPECT_EQ(modes[i].frequency_hz == 0.0, i < 6) << modes[i].name;
    EXPECT_FALSE(modes[i].is_unstable);
  }
  // All lifts together push the body back: reduced mass (two-body problem, textbook). What moves
  // with the lifts has no momentum of its own in a lumped leg. Opposite diagonals move nothing but
  // themselves.
  const double feet_kg = 4.0 * kFootMassKg;
  const double reduced_kg = feet_kg * kBodyMassKg / (feet_kg + kBodyMassKg);
  for (const double hertz : {Hertz(4.0 * kLiftNPerM, reduced_kg + 4.0 * kLiftMassKg),
                             Hertz(kLiftNPerM, kFootMassKg + kLiftMassKg),
                             Hertz(kSwingNPerM, kFootMassKg + kSwingMassKg)}) {
    EXPECT_TRUE(std::any_of(modes.begin(), modes.end(), [&](const Mode& mode) {
      return std::abs(mode.frequency_hz - hertz) < 1e-9 * hertz;
    })) << hertz;
  }
}

// Lets a robot go from a small motion in free flight and times it. The midpoint rule turns omega
// into (2 / h) atan(h omega / 2), exactly for a linear system (own derivation; Marsden and West
// 2001 for the scheme).
TEST(ModesTest, ReleasedMotionKeepsTheFrequencyOfItsMode) {
  v1::Robot robot = test::MakeQuadruped();
  for (v1::Leg& leg : *robot.mutable_legs()) {
    leg.mutable_lumped()->mutable_lift()->set_damping_n_s_per_m(0.0);
    leg.mutable_lumped()->mutable_swing()->set_damping_n_s_per_m(0.0);
  }
  const RobotModel model = Model(robot).InFreeFall();
  const auto standing = FindStanding(model, FootCondition::kFreeFlight);
  ASSERT_THAT(standing, test::IsOk());
  const Eigen::VectorXd no_force = Eigen::VectorXd::Zero(model.coordinate_count());
  LagrangianTerms terms;
  model.Evaluate(standing->position, no_force, DerivativeOrder::kSecond, &terms);
  const std::vector<Mode> modes = FindModes(model, *standing);
  for (const size_t index : {6u, 9u, 11u, 13u}) {
    const Mode& mode = modes[index];
    const double omega = 2.0 * kPi * mode.frequency_hz * model.scale().time_s;
    const double h = 2.0 * kPi / omega / 60.0;
    const Eigen::VectorXd weight = terms.momentum_v * mode.shape;
    const double amplitude = 1e-5 / mode.shape.lpNorm<Eigen::Infinity>();
    KnotState state{standing->position + amplitude * mode.shape, no_force};
    MidpointInterval interval;
    interval.Resize(model.coordinate_count());
    std::vector<double> crossings;  // upwards
    double last = amplitude;
    for (int step = 1; crossings.size() < 21; ++step) {
      ASSERT_LT(step, 60 * 30);
      ASSERT_THAT(test::StepFreely(model, no_force, h, &state, &interval), test::IsOk());
      const double now = weight.dot(state.position - standing->position);
      if (last < 0.0 && now >= 0.0) {
        crossings.push_back(h * (step - now / (now - last)));
      }
      last = now;
    }
    const double measured = 2.0 * kPi * 20.0 / (crossings.back() - crossings.front());
    const double expected = 2.0 / h * std::atan(0.5 * h * omega);
    EXPECT_NEAR(measured, expected, 1e-4 * expected) << mode.name;
  }
}

TEST(ModesTest, UnitsOfTheModelDoNotMatter) {
  for (const FootCondition condition : {FootCondition::kSliding, FootCondition::kFreeFlight}) {
    const std::vector<Mode> scaled = Modes(test::MakeHexapod(), condition);
    const std::vector<Mode> si = Modes(test::MakeHexapod(), condition, Scale());
    ASSERT_EQ(scaled.size(), si.size());
    for (size_t i = 0; i < si.size(); ++i) {
      EXPECT_NEAR(scaled[i].frequency_hz, si[i].frequency_hz, 1e-7 * HighestFrequency(si));
    }
  }
}

TEST(ModesTest, LegsTooSoftForTheWeightAreUnstable) {
  v1::Robot robot = test::MakeQuadruped();
  for (v1::Leg& leg : *robot.mutable_legs()) {
    // 4 k y^2 = 1.2e-4 N m against M g h = 2.0e-4 N m.
    leg.mutable_lumped()->mutable_lift()->set_stiffness_n_per_m(0.1);
    leg.mutable_lumped()->mutable_lift()->mutable_bimorph()->set_stiffness_n_per_m(0.0);
  }
  const std::vector<Mode> modes = Modes(robot, FootCondition::kSliding);
  ASSERT_FALSE(modes.empty());
  EXPECT_TRUE(modes.front().is_unstable);
  EXPECT_EQ(modes.front().frequency_hz, 0.0);
}

TEST(ModesTest, StrideSitsOnAModeWithinEightPercent) {
  const std::vector<Mode> modes = Modes(test::MakeQuadruped(), FootCondition::kSliding);
  const double heave_hz = Find(modes, "heave").frequency_hz;
  std::vector<std::string> names;
  for (const Mode& mode : ModesNear(modes, 1.079 * heave_hz)) {
    names.push_back(mode.name);
  }
  EXPECT_THAT(names, ElementsAre("heave"));
  EXPECT_TRUE(ModesNear(modes, 1.081 * heave_hz).empty());
  EXPECT_TRUE(ModesNear(modes, 3.0).empty());
  EXPECT_TRUE(ModesNear(modes, 0.0).empty());
}

}  // namespace
}  // namespace gaitshelf::solver
