// Replays a gait and writes two logs of it as a person would measure them: board.csv and
// tracking.csv, whose clock lags. Invented data.
//
// Usage: replay_log ROBOT_FILE SURFACE_FILE GAIT_JSON FOLDER CYCLES DELAY_S
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <iostream>
#include <sstream>
#include <string>

#include <google/protobuf/util/json_util.h>

#include "solver/base/constants.h"
#include "tests/support/read_description.h"
#include "tests/support/recorded_trial.h"
#include "tests/support/trial_csv.h"

namespace {

std::string ReadFile(const std::string& path) {
  std::ifstream file(path);
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 7) {
    std::cerr << "usage: replay_log ROBOT_FILE SURFACE_FILE GAIT_JSON FOLDER CYCLES DELAY_S\n";
    return 2;
  }
  gaitshelf::solver::RecordRequest request;
  request.robot = gaitshelf::test::ReadRobotText(ReadFile(argv[1])).value();
  request.surface = gaitshelf::test::ReadSurfaceText(ReadFile(argv[2])).value();
  const auto parsed = google::protobuf::util::JsonStringToMessage(ReadFile(argv[3]), &request.gait);
  if (!parsed.ok()) {
    std::cerr << parsed.ToString() << "\n";
    return 1;
  }
  request.cycle_count = std::atoi(argv[5]);
  const auto recording = gaitshelf::solver::RecordReplay(request);
  if (!recording.ok() || !recording->simulated.trouble.empty()) {
    std::cerr << recording.status() << "\n";
    return 1;
  }
  double mass_kg = request.robot.body().mass_kg();
  for (const gaitshelf::v1::Leg& leg : request.robot.legs()) {
    mass_kg += leg.lumped().foot_mass_kg();
  }
  const auto recorded =
      gaitshelf::test::MakeRecordedTrial(*recording,
                                         request.gait,
                                         {.weight_n = mass_kg * gaitshelf::solver::kGravityMPerS2,
                                          .tracking_delay_s = std::atof(argv[6])});
  gaitshelf::test::WriteGaitLogs(recorded, argv[4], "a replay, written down");
  std::printf("%.9g\n", recording->simulated.report.advance_m());
  return 0;
}
