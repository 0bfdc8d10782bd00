// Covers solver/calibrate/bench_record.cc
// Covers solver/calibrate/leg_numbers.cc
// Covers solver/calibrate/linear_leg.cc
#include "solver/calibrate/leg_response.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <vector>

#include <Eigen/LU>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "solver/calibrate/leg_numbers.h"
#include "solver/leg/modes.h"
#include "solver/leg/standing.h"
#include "tests/support/bench_trial.h"
#include "tests/support/demo.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;

constexpr double kTwoPi = 2.0 * std::numbers::pi;

LinearLeg Linearise(const v1::Leg& leg) {
  return LineariseLeg(leg, LegNumbers::Create(leg).value()).value();
}

// One oscillator in lift of natural frequency 2 pi 50 /s; swing far stiffer.
LinearLeg Oscillator(double damping_ratio) {
  LinearLeg leg;
  leg.mass = 1e-5 * Eigen::Matrix2d::Identity();
  leg.weight_stiffness.setZero();
  const double omega = kTwoPi * 50.0;
  leg.stiffness[0] = (Eigen::Matrix2d() << 1e-5 * omega * omega, 0, 0, 0).finished();
  leg.stiffness[1] = (Eigen::Matrix2d() << 0, 0, 0, 1.0).finished();
  leg.damping[0] = (Eigen::Matrix2d() << 2.0 * damping_ratio * omega * 1e-5, 0, 0, 0).finished();
  leg.damping[1].setZero();
  leg.gain = (Eigen::Matrix2d() << 2e-4, 0, 0, 1e-4).finished();
  leg.has_drive = {true, true};
  leg.foot_rate.setZero();
  leg.foot_rate(2, 0) = leg.foot_rate(0, 1) = 1.0;
  return leg;
}

struct Rows {
  std::vector<double> time_s;
  std::vector<double> position_m;
  BenchRecord record;
};

void FillRows(int count, double period_s, Rows* rows) {
  for (int i = 0; i < count; ++i) {
    rows->time_s.push_back(i * period_s);
  }
  rows->position_m.assign(rows->time_s.size(), 0.0);
  rows->record.time_s = &rows->time_s;
  rows->record.position_m[0] = &rows->position_m;
  rows->record.input.setZero(4, count);
}

// Ratio of amplitudes after one damped cycle, exp(-2 pi zeta / sqrt(1 - zeta^2)); values computed
// apart from this program.
TEST(LegResponseTest, RingsDownByTheLogarithmicDecrement) {
  const struct {
    double damping_ratio, amplitude_ratio, damped_ratio;
  } rows[] = {{0.01, 0.9390984169336818, 0.9999499987499375},
              {0.05, 0.7301153801794059, 0.998749217771909},
              {0.1, 0.5318020829442597, 0.99498743710662},
              {0.3, 0.13862672840980345, 0.9539392014169457}};
  for (const auto& row : rows) {
    Rows rows_s;
    // Two rows one damped cycle apart.
    FillRows(2, 1.0 / (50.0 * row.damped_ratio), &rows_s);
    const LegResponse response = Respond(Oscillator(row.damping_ratio), {}, rows_s.record);
    EXPECT_NEAR(response.motion[0](1, 0), row.amplitude_ratio, 1e-9);
    EXPECT_EQ(response.motion[1].size(), 0);
  }
}

// A held force moves an oscillator by F / k (1 - e^(-zeta omega t) (cos + zeta / sqrt(1 - zeta^2)
// sin)), own derivation.
TEST(LegResponseTest, StepsByTheClosedForm) {
  Rows rows;
  FillRows(40, 0.0011, &rows);
  rows.record.input.row(0).setConstant(3.0);
  const double zeta = 0.05, omega = kTwoPi * 50.0, damped = omega * std::sqrt(1.0 - zeta * zeta);
  const LegResponse response = Respond(Oscillator(zeta), {}, rows.record);
  const double still_m = 3.0 * 2e-4 / (1e-5 * omega * omega);
  for (Index i = 0; i < 40; ++i) {
    const double t = rows.time_s[static_cast<std::size_t>(i)];
    const double moved =
        still_m * (1.0 - std::exp(-zeta * omega * t) *
                             (std::cos(damped * t) + zeta * omega / damped * std::sin(damped * t)));
    EXPECT_NEAR(response.motion[0](i, LegResponse::kDrive), moved, 1e-10 * still_m);
  }
}

// Amplitude and phase under a sine at a share r of the natural frequency, 1 / (1 - r^2 + 2 i zeta
// r); values computed apart from this program. The input is held between 4000 rows a cycle.
TEST(LegResponseTest, FollowsASineByTheFrequencyResponse) {
  const struct {
    double r, zeta, amplitude, phase_deg;
  } rows[] = {{0.5, 0.1, 1.3216372009101796, -7.594643368591445},
              {1.0, 0.1, 5.0, -90.0},
              {1.5, 0.1, 0.777909841584414, -166.50426671920417}};
  for (const auto& row : rows) {
    Rows sine;
    constexpr int kPerCycle = 4000, kCycles = 24;
    FillRows(kPerCycle * kCycles, 1.0 / (50.0 * row.r * kPerCycle), &sine);
    for (Index i = 0; i < sine.record.input.cols(); ++i) {
      sine.record.input(2, i) = std::sin(kTwoPi * static_cast<double>(i) / kPerCycle);
    }
    const LinearLeg leg = Oscillator(row.zeta);
    const LegResponse response = Respond(leg, {}, sine.record);
    // The last cycle, long after the start has died away.
    double in = 0.0, out = 0.0;
    for (Index i = 0; i < kPerCycle; ++i) {
      const double angle = kTwoPi * static_cast<double>(i) / kPerCycle;
      const double moved = response.motion[0](kPerCycle * (kCycles - 1) + i, LegResponse::kForce) *
                           leg.stiffness[0](0, 0);
      in += 2.0 * moved * std::sin(angle) / kPerCycle;
      out += 2.0 * moved * std::cos(angle) / kPerCycle;
    }
    // A held input is half a row late.
    EXPECT_NEAR(std::hypot(in, out), row.amplitude, 1e-3 * row.amplitude) << row.r;
    EXPECT_NEAR(std::atan2(out, in) * 360.0 / kTwoPi, row.phase_deg, 0.15) << row.r;
  }
}

// Modes of the clamped robot, by the model of the whole robot.
TEST(LinearLegTest, HasTheModesOfTheClampedRobot) {
  for (const char* name : {"weevil", "weevil-lumped"}) {
    v1::Robot robot = test::ReadDemoRobot(name);
    const LinearLeg leg = Linearise(robot.legs(0));
    robot.mutable_body()->set_support(v1::BODY_SUPPORT_CLAMPED);
    robot.mutable_body()->set_clamp_height_m(0.05);
    const RobotModel model = RobotModel::Create(robot, test::MakeSurface(0.5), Scale()).value();
    const std::vector<Mode> modes =
        FindModes(model, FindStanding(model, FootCondition::kClamped).value());
    const Eigen::Matrix2d stiffness = leg.stiffness[0] + leg.stiffness[1] + leg.weight_stiffness;
    const Eigen::Matrix2d square = leg.mass.inverse() * stiffness;
    const double half = 0.5 * square.trace();
    const double root = std::sqrt(half * half - square.determinant());
    for (const double omega2 : {half - root, half + root}) {
      double nearest = std::numeric_limits<double>::infinity();
      for (const Mode& mode : modes) {
        nearest =
            std::min(nearest, std::abs(mode.frequency_hz / (std::sqrt(omega2) / kTwoPi) - 1.0));
      }
      // Gravity hangs on the held posture in the modes.
      EXPECT_LT(nearest, 2e-3) << name;
    }
  }
}

TEST(LegNumbersTest, ScalesWhatIsFeltAtTheFoot) {
  for (const char* name : {"weevil", "weevil-lumped"}) {
    const v1::Leg leg = test::ReadDemoRobot(name).legs(1);
    const LegNumbers numbers = LegNumbers::Create(leg).value();
    const LinearLeg before = LineariseLeg(leg, numbers).value();
    LegFactors factors;
    factors.stiffness = {1.2, 0.9};
    factors.damping = {0.7, 1.1};
    factors.gain = {1.3, 0.8};
    factors.mass = 1.05;
    const v1::Leg scaled = numbers.Scaled(leg, factors);
    const LinearLeg after = LineariseLeg(scaled, numbers).value();
    const double size = before.stiffness[0].norm() + before.stiffness[1].norm();
    for (std::size_t axis = 0; axis < 2; ++axis) {
      EXPECT_LT((after.stiffness[axis] - factors.stiffness[axis] * before.stiffness[axis]).norm(),
                1e-6 * size)
          << name;
      EXPECT_LT((after.damping[axis] - factors.damping[axis] * before.damping[axis]).norm(),
                1e-5 * (before.damping[0].norm() + before.damping[1].norm()))
          << name;
      const auto column = static_cast<Index>(axis);
      EXPECT_LT((after.gain.col(column) - factors.gain[axis] * before.gain.col(column)).norm(),
                1e-9 * before.gain.norm());
      // Most of a coordinate's stiffness is its own.
      EXPECT_GT(before.stiffness[axis](column, column),
                0.5 * (before.stiffness[0] + before.stiffness[1])(column, column))
          << name;
    }
    EXPECT_LT((after.mass - 1.05 * before.mass).norm(), 1e-6 * before.mass.norm());
  }
}

TEST(BenchRecordTest, HoldsVoltagesFromRowToRow) {
  const v1::Robot robot = test::MakeQuadruped();
  test::ReadTrial read;
  read.trial->set_name("t-1");
  read.trial->set_kind(v1::TRIAL_KIND_STEP);
  read.trial->set_robot("quadruped");
  v1::TrialGroup* legs = read.trial->add_groups();
  legs->set_name("legs");
  legs->set_clock(v1::TRIAL_CLOCK_ON_BOARD);
  v1::TrialGroup* drives = read.trial->add_groups();
  *drives = *legs;
  drives->set_name("drives");
  for (const char* label : {"time [ms]", "leg-2 swing [um]", "added mass [mg]"}) {
    legs->add_columns()->set_label(label);
  }
  for (const char* label : {"time [ms]", "leg-2 swing voltage [V]"}) {
    drives->add_columns()->set_label(label);
  }
  const double nan = std::numeric_limits<double>::quiet_NaN();
  for (const double value : {0.0, 1.0, 3.0, 1.0, 2.0, 3.0, 2.0, nan, 3.0, 3.0, 4.0, 3.0}) {
    read.blocks.resize(2);
    read.blocks[0].add_values_as_labelled(value);
  }
  read.blocks[1].set_group_index(1);
  for (const double value : {0.5, 110.0, 1.5, nan, 2.5, 130.0}) {
    read.blocks[1].add_values_as_labelled(value);
  }
  read.Read(robot);
  EXPECT_TRUE(ReadBenchRecords(*read.table, robot.legs(0)).empty());
  const std::vector<BenchRecord> records = ReadBenchRecords(*read.table, robot.legs(1));
  ASSERT_EQ(records.size(), 1u);
  EXPECT_EQ(records[0].position_m[0], nullptr);
  EXPECT_TRUE(std::isnan((*records[0].position_m[1])[2]));
  EXPECT_DOUBLE_EQ(records[0].added_mass_kg, 3e-6);
  EXPECT_FALSE(records[0].has_voltage[0]);
  EXPECT_TRUE(records[0].has_voltage[1]);
  // About a bias of 100 V; before its first row a drive is where it was then.
  const double expected[] = {10.0, 10.0, 10.0, 30.0};
  for (Index i = 0; i < 4; ++i) {
    EXPECT_DOUBLE_EQ(records[0].input(1, i), expected[i]) << i;
    EXPECT_EQ(records[0].input(0, i), 0.0);
  }
}

}  // namespace
}  // namespace gaitshelf::solver
