// Hides a robot and a surface that are off from their descriptions by up to a fifth, and writes
// trials of them: the bench tests ring-down.csv, chirp.csv and tilt.csv, and board.csv and
// tracking.csv of the gait that is planned for the descriptions, 9 mm per cycle at 12 Hz. The
// hidden descriptions go beside them, and their numbers as JSON to the output. Invented data.
//
// Usage: hidden_trials ROBOT_FILE SURFACE_FILE FOLDER RNG
#include <cstdlib>
#include <fstream>
#include <iostream>
#include <random>
#include <sstream>
#include <string>

#include <google/protobuf/text_format.h>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "solver/base/constants.h"
#include "solver/plan/plan_gait.h"
#include "solver/replay/record.h"
#include "tests/support/bench_trial.h"
#include "tests/support/hidden_robot.h"
#include "tests/support/read_description.h"
#include "tests/support/recorded_trial.h"
#include "tests/support/trial_csv.h"

namespace {

namespace test = gaitshelf::test;
namespace v1 = gaitshelf::v1;

std::string ReadFile(const std::string& path) {
  std::ifstream file(path);
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

void WriteTrial(const test::ReadTrial& trial, const std::string& folder, const std::string& name) {
  test::WriteCsv(
      trial.trial->groups(0),
      trial.blocks[0],
      {.path = absl::StrCat(folder, "/", name, ".csv"), .what = trial.trial->title(), .digits = 6});
}

// Writes what a controller and a tracking system log of the demonstration's order: a second of it,
// about once a millisecond on board and 200 times a second from outside, late and noisy.
void WriteWalk(const v1::Robot& robot,
               const v1::Surface& surface,
               const test::HiddenRobot& hidden,
               const std::string& folder,
               unsigned rng) {
  gaitshelf::solver::PlanRequest plan{.robot = robot, .surface = surface, .order = {}};
  plan.order.set_robot(robot.name());
  plan.order.set_surface(surface.name());
  plan.order.set_stride_frequency_hz(12.0);
  plan.order.mutable_task()->mutable_advance()->set_advance_m(0.009);
  const v1::Gait gait = gaitshelf::solver::PlanGait(plan, {}).value();
  const auto recording =
      gaitshelf::solver::RecordReplay(
          {.robot = hidden.robot, .surface = hidden.surface, .gait = gait, .cycle_count = 12})
          .value();
  const test::RecordingSensors sensors = {
      .weight_n = robot.body().mass_kg() * gaitshelf::solver::kGravityMPerS2,
      .tracking_delay_s = 0.0123,
      .tracking_stride = 36,
      .on_board_stride = 8,
      .leg_noise_m = 5e-6,
      .body_noise_m = 1e-4,
      .body_noise_rad = 2e-3,
      .rng = rng};
  test::WriteGaitLogs(test::MakeRecordedTrial(recording, gait, sensors),
                      folder,
                      "a made-up robot walks; nothing was measured",
                      /*digits=*/6);
}

void WriteDescription(const google::protobuf::Message& message, const std::string& path) {
  std::string text;
  google::protobuf::TextFormat::PrintToString(message, &text);
  std::ofstream(path) << "# Invented: nobody measured it.\n" << text;
}

void PrintNumbers(const test::HiddenRobot& hidden) {
  std::cout << "{\"friction\": " << hidden.surface.friction_coefficient() << ", \"legs\": [";
  for (std::size_t i = 0; i < hidden.factors.size(); ++i) {
    const gaitshelf::solver::LegFactors& factors = hidden.factors[i];
    std::cout << (i > 0 ? ", " : "")
              << absl::StrFormat(
                     "{\"stiffness\": [%.9g, %.9g], \"damping\": [%.9g, %.9g], \"gain\": [%.9g, "
                     "%.9g], \"mass\": %.9g}",
                     factors.stiffness[0],
                     factors.stiffness[1],
                     factors.damping[0],
                     factors.damping[1],
                     factors.gain[0],
                     factors.gain[1],
                     factors.mass);
  }
  std::cout << "]}\n";
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 5) {
    std::cerr << "usage: hidden_trials ROBOT_FILE SURFACE_FILE FOLDER RNG\n";
    return 2;
  }
  const v1::Robot robot = gaitshelf::test::ReadRobotText(ReadFile(argv[1])).value();
  const v1::Surface surface = gaitshelf::test::ReadSurfaceText(ReadFile(argv[2])).value();
  const std::string folder = argv[3];
  const auto rng = static_cast<unsigned>(std::atoi(argv[4]));
  std::mt19937 generator(rng);
  const test::HiddenRobot hidden = test::Hide(robot, surface, &generator);
  WriteTrial(test::MakeLegTrial(hidden.robot, test::RingDown(rng)), folder, "ring-down");
  WriteTrial(test::MakeLegTrial(hidden.robot, test::Chirp(rng + 1)), folder, "chirp");
  WriteTrial(
      test::MakeTiltTrial({.friction = hidden.surface.friction_coefficient(), .rng = rng + 2}),
      folder,
      "tilt");
  WriteWalk(robot, surface, hidden, folder, rng + 3);
  WriteDescription(hidden.robot, folder + "/hidden.robot.textproto");
  WriteDescription(hidden.surface, folder + "/hidden.surface.textproto");
  PrintNumbers(hidden);
  return 0;
}
