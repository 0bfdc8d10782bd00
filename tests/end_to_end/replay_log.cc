// Replays a gait and writes two logs of it as a person would measure them: board.csv and
// tracking.csv, whose clock lags. Invented data.
//
// Usage: replay_log ROBOT_FILE SURFACE_FILE GAIT_JSON FOLDER CYCLES DELAY_S
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <iomanip>
#include <iostream>
#include <sstream>
#include <string>

#include <google/protobuf/util/json_util.h>

#include "solver/base/constants.h"
#include "solver/robot/read.h"
#include "tests/support/recorded_trial.h"

namespace {

std::string ReadFile(const std::string& path) {
  std::ifstream file(path);
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

void WriteLog(const gaitshelf::test::RecordedTrial& recorded, int index, const std::string& path) {
  std::ofstream file(path);
  const gaitshelf::v1::TrialGroup& group = recorded.trial.groups(index);
  file << "# invented: a replay, written down\n# name: " << group.name() << "\n# clock: "
       << (group.clock() == gaitshelf::v1::TRIAL_CLOCK_TRACKING ? "tracking" : "on-board") << "\n";
  const int width = group.columns_size();
  for (int i = 0; i < width; ++i) {
    file << (i > 0 ? "," : "") << group.columns(i).label();
  }
  const auto& values = recorded.blocks[static_cast<std::size_t>(index)].values_as_labelled();
  file << std::setprecision(10);
  for (int i = 0; i < values.size(); ++i) {
    file << (i % width == 0 ? "\n" : ",") << values[i];
  }
  file << "\n";
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 7) {
    std::cerr << "usage: replay_log ROBOT_FILE SURFACE_FILE GAIT_JSON FOLDER CYCLES DELAY_S\n";
    return 2;
  }
  gaitshelf::solver::RecordRequest request;
  request.robot = gaitshelf::solver::ReadRobotText(ReadFile(argv[1])).value();
  request.surface = gaitshelf::solver::ReadSurfaceText(ReadFile(argv[2])).value();
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
  WriteLog(recorded, 0, std::string(argv[4]) + "/board.csv");
  WriteLog(recorded, 1, std::string(argv[4]) + "/tracking.csv");
  std::printf("%.9g\n", recording->simulated.report.advance_m());
  return 0;
}
