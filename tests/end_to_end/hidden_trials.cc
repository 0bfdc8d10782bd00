// Hides a robot and a surface that are off from their descriptions by up to a fifth, and writes
// bench tests of them: ring-down.csv, chirp.csv and tilt.csv. The hidden descriptions go beside
// them, and their numbers as JSON to the output. Invented data.
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
#include "solver/robot/read.h"
#include "tests/support/bench_trial.h"
#include "tests/support/hidden_robot.h"
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
  const v1::Robot robot = gaitshelf::solver::ReadRobotText(ReadFile(argv[1])).value();
  const v1::Surface surface = gaitshelf::solver::ReadSurfaceText(ReadFile(argv[2])).value();
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
  WriteDescription(hidden.robot, folder + "/hidden.robot.textproto");
  WriteDescription(hidden.surface, folder + "/hidden.surface.textproto");
  PrintNumbers(hidden);
  return 0;
}
