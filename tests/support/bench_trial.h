// Bench tests of a robot's legs and of a surface, as invented instruments would log them. The legs
// are stepped by the replay's own model of the clamped robot, which shares nothing with the linear
// leg that calibration fits. Invented data.
#ifndef GAITSHELF_TESTS_SUPPORT_BENCH_TRIAL_H_
#define GAITSHELF_TESTS_SUPPORT_BENCH_TRIAL_H_

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <numbers>
#include <random>
#include <stdexcept>
#include <string>
#include <vector>

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/trial.pb.h"

#include "solver/leg/robot_model.h"
#include "solver/replay/contact_step.h"
#include "tests/support/read_trial.h"
#include "tests/support/robots.h"

namespace gaitshelf::test {

// How the legs are excited and measured.
struct LegTest {
  v1::TrialKind kind = v1::TRIAL_KIND_RING_DOWN;
  std::string name = "t-ring";
  double duration_s = 0.3;
  double start_lift_m = 0.0;
  double start_swing_m = 0.0;
  // Voltage less bias of lift and swing at a time.
  std::function<std::array<double, 2>(double)> drive_v = [](double) {
    return std::array<double, 2>{0.0, 0.0};
  };
  double rate_hz = 2000.0;
  double noise_m = 5e-6;
  unsigned rng = 1;
};

inline LegTest RingDown(unsigned rng) {
  return {.start_lift_m = 0.0010, .start_swing_m = 0.0020, .rng = rng};
}

// 40 to 160 Hz, across the legs' own frequencies, so weak that no leg meets its stops there.
inline LegTest Chirp(unsigned rng) {
  LegTest test = {.kind = v1::TRIAL_KIND_CHIRP, .name = "t-chirp", .rng = rng};
  test.drive_v = [](double time_s) {
    const double cycles = 40.0 * time_s + 0.5 * (160.0 - 40.0) / 0.3 * time_s * time_s;
    const double wave = std::sin(2.0 * std::numbers::pi * cycles);
    return std::array<double, 2>{0.8 * wave, 1.5 * wave};
  };
  return test;
}

inline LegTest StepUp(unsigned rng) {
  LegTest test = {.kind = v1::TRIAL_KIND_STEP, .name = "t-step", .rng = rng};
  test.drive_v = [](double time_s) {
    const double level = time_s < 0.02 ? 0.0 : 1.0;
    return std::array<double, 2>{8.0 * level, 12.0 * level};
  };
  return test;
}

// Clamps the robot high above the ground and tests all its legs at once.
inline ReadTrial MakeLegTrial(const v1::Robot& described, const LegTest& test) {
  // Steps so fine that their own change of frequency, (omega h)^2 / 24, is far below what
  // the data can tell.
  constexpr double kStepS = 2.5e-5;
  v1::Robot robot = described;
  robot.mutable_body()->set_support(v1::BODY_SUPPORT_CLAMPED);
  robot.mutable_body()->set_clamp_height_m(0.05);
  const solver::RobotModel model =
      solver::RobotModel::Create(robot, MakeSurface(0.5), solver::Scale()).value();
  Eigen::VectorXd position(model.coordinate_count());
  for (Eigen::Index i = 0; i < position.size(); ++i) {
    position[i] = i % 2 == 0 ? test.start_lift_m : test.start_swing_m;
  }
  solver::ReplayState state =
      solver::StartWithVelocity(model, position, Eigen::VectorXd::Zero(position.size()), kStepS);
  solver::ContactStepper stepper(&model);

  ReadTrial result;
  result.trial->set_name(test.name);
  result.trial->set_kind(test.kind);
  result.trial->set_title("legs of a made-up robot on a bench; invented data");
  result.trial->set_robot(robot.name());
  result.trial->set_is_invented(true);
  v1::TrialGroup* group = result.trial->add_groups();
  group->set_name("bench");
  group->set_clock(v1::TRIAL_CLOCK_ON_BOARD);
  group->add_columns()->set_label("time [ms]");
  const bool has_voltage = test.kind != v1::TRIAL_KIND_RING_DOWN;
  for (const v1::Leg& leg : robot.legs()) {
    for (const char* coordinate : {" lift", " swing"}) {
      group->add_columns()->set_label(leg.name() + coordinate + " [um]");
      if (has_voltage) {
        group->add_columns()->set_label(leg.name() + coordinate + " voltage [V]");
      }
    }
  }
  std::mt19937 generator(test.rng);
  std::normal_distribution<double> normal(0.0, 1.0);
  const auto stride = static_cast<int>(std::lround(1.0 / (test.rate_hz * kStepS)));
  const auto rows = static_cast<int>(std::lround(test.duration_s * test.rate_hz));
  v1::TrialBlock& block = result.blocks.emplace_back();
  Eigen::VectorXd u(model.drive_count());
  solver::StepReport report;
  for (int row = 0; row < rows; ++row) {
    const double time_s = row * stride * kStepS;
    const std::array<double, 2> drive_v = test.drive_v(time_s);
    block.add_values_as_labelled(1e3 * time_s);
    for (Eigen::Index i = 0; i < model.drive_count(); ++i) {
      const solver::Drive& drive = model.drives()[static_cast<std::size_t>(i)];
      u[i] = drive_v[static_cast<std::size_t>(i % 2)] / drive.half_range_v;
      block.add_values_as_labelled(1e6 *
                                   (state.knot.position[i] + test.noise_m * normal(generator)));
      if (has_voltage) {
        block.add_values_as_labelled(drive.bias_v + drive_v[static_cast<std::size_t>(i % 2)]);
      }
    }
    for (int step = 0; step < stride; ++step) {
      if (!stepper.Step(u, kStepS, &state, &report).ok()) {
        throw std::runtime_error("the clamped robot cannot be stepped");
      }
    }
  }
  result.Read(robot);
  return result;
}

struct TiltTest {
  double friction = 0.45;
  int repetitions = 10;
  double scatter_rad = 0.01;
  unsigned rng = 1;
};

// A foot on a plane that is tilted until it slides.
inline ReadTrial MakeTiltTrial(const TiltTest& test) {
  ReadTrial result;
  result.trial->set_name("t-tilt");
  result.trial->set_kind(v1::TRIAL_KIND_TILT);
  result.trial->set_title("a made-up foot on a tilted plane; invented data");
  result.trial->set_surface("bench");
  result.trial->set_is_invented(true);
  v1::TrialGroup* group = result.trial->add_groups();
  group->set_name("tilt");
  group->set_clock(v1::TRIAL_CLOCK_BENCH);
  group->add_columns()->set_label("tilt [deg]");
  std::mt19937 generator(test.rng);
  std::normal_distribution<double> normal(0.0, test.scatter_rad);
  v1::TrialBlock& block = result.blocks.emplace_back();
  for (int i = 0; i < test.repetitions; ++i) {
    block.add_values_as_labelled((std::atan(test.friction) + normal(generator)) * 180.0 /
                                 std::numbers::pi);
  }
  result.Read(MakeBody(1.0, 1.0));
  return result;
}

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SUPPORT_BENCH_TRIAL_H_
