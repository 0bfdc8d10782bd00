// Times the analysis of a trial, ten minutes long unless told otherwise: the controller's log at
// 1 kHz with legs, voltages and contacts, and a tracking system's at 500 Hz that lags, with noise,
// gaps and missing samples. First from memory, then the way of a server: taken in message by
// message into a library on disk, and read, analysed and kept from there.
// Usage: trial_analysis [--minutes N] [--json FILE]
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <filesystem>
#include <random>
#include <string>
#include <utility>
#include <vector>

#include <unistd.h>

#include "absl/status/status.h"
#include "service/api/receive_trial.h"
#include "service/api/study_trial.h"
#include "service/library/sqlite_library.h"
#include "solver/base/status_macros.h"
#include "solver/robot/digest.h"
#include "tests/bench/json.h"
#include "tests/bench/options.h"
#include "tests/solver/measure/walker.h"

namespace {

using gaitshelf::bench::Json;
using Clock = std::chrono::steady_clock;

double SecondsSince(Clock::time_point start) {
  return std::chrono::duration<double>(Clock::now() - start).count();
}

// Prints one analysis and gives the same as JSON.
Json Tell(double seconds, const gaitshelf::v1::TrialAnalysis& analysis) {
  std::printf("%8.2f s  %d cycles, stride %.4f mm, uncertainty %.4f mm\n",
              seconds,
              analysis.cycle_start_s_size(),
              1e3 * analysis.stride_m().mean_si(),
              1e3 * analysis.stride_m().uncertainty_si());
  std::fflush(stdout);
  return Json::Object()
      .Set("seconds", seconds)
      .Set("cycles", analysis.cycle_start_s_size())
      .Set("stride_m", analysis.stride_m().mean_si())
      .Set("stride_uncertainty_m", analysis.stride_m().uncertainty_si());
}

Json TimeFromMemory(const gaitshelf::test::Walker& walker) {
  const gaitshelf::test::Walked walked = gaitshelf::test::Walk(walker);
  gaitshelf::v1::AnalysisOptions known;
  known.set_greatest_delay_s(0.05);
  std::printf("from memory, delay known to be below 50 ms, then unknown\n");
  Json report = Json::Object();
  for (const auto& [name, options] :
       {std::pair("known_delay", known),
        std::pair("unknown_delay", gaitshelf::v1::AnalysisOptions())}) {
    const Clock::time_point start = Clock::now();
    const gaitshelf::v1::TrialAnalysis analysis = walked.Analyse(options);
    report.Set(name, Tell(SecondsSince(start), analysis));
  }
  return report;
}

// Sends a log in messages as the command does.
absl::Status Send(const gaitshelf::v1::TrialBlock& log,
                  int width,
                  gaitshelf::service::TrialReceiver* receiver) {
  const int rows_a_message = gaitshelf::solver::TrialLimits::kMostBlockValues / width;
  const int rows = log.values_as_labelled_size() / width;
  for (int row = 0; row < rows; row += rows_a_message) {
    gaitshelf::v1::UploadTrialRequest request;
    gaitshelf::v1::TrialBlock* block = request.mutable_block();
    block->set_group_index(log.group_index());
    block->set_first_row(row);
    const double* values = log.values_as_labelled().data();
    block->mutable_values_as_labelled()->Add(values + row * width,
                                             values + std::min(rows, row + rows_a_message) * width);
    GAITSHELF_RETURN_IF_ERROR(receiver->Take(request));
  }
  return absl::OkStatus();
}

absl::StatusOr<Json> TimeThroughALibrary(const gaitshelf::test::Walker& walker,
                                         const std::string& folder) {
  auto library = gaitshelf::service::OpenSqliteLibrary(folder + "/library.db", {}).value();
  const gaitshelf::v1::Robot robot = gaitshelf::test::MakeQuadruped();
  const gaitshelf::v1::Surface surface = gaitshelf::test::MakeSurface(0.5);
  gaitshelf::v1::Gait gait = gaitshelf::test::MakeSineGait(robot, walker.sine);
  gait.set_robot_digest(gaitshelf::solver::RobotDigest(robot));
  gait.set_surface(surface.name());
  gait.set_surface_digest(gaitshelf::solver::SurfaceDigest(surface));
  for (const absl::Status& status :
       {library->PutRobot(robot, gait.robot_digest(), "bench").status(),
        library->PutSurface(surface, gait.surface_digest(), "bench").status(),
        library->InsertGait(gait, "key")}) {
    GAITSHELF_RETURN_IF_ERROR(status);
  }
  gaitshelf::v1::UploadTrialRequest first;
  gaitshelf::v1::Trial* trial = first.mutable_trial();
  trial->set_kind(gaitshelf::v1::TRIAL_KIND_GAIT);
  trial->set_gait(gait.name());
  std::vector<gaitshelf::v1::TrialBlock> logs;
  std::mt19937 generator(walker.rng);
  for (const gaitshelf::test::LogSpec& log : gaitshelf::test::BothLogs()) {
    std::vector<std::string> labels = {"time [s]"};
    labels.insert(labels.end(), log.labels.begin(), log.labels.end());
    gaitshelf::test::AddGroup(log.name, log.clock, labels, trial);
    logs.push_back(
        gaitshelf::test::WriteLog(walker, log, static_cast<int>(logs.size()), &generator));
  }
  Clock::time_point start = Clock::now();
  gaitshelf::service::TrialReceiver receiver(
      library.get(), "bench", gaitshelf::solver::TrialLimits::kMostValues);
  GAITSHELF_RETURN_IF_ERROR(receiver.Take(first));
  for (const gaitshelf::v1::TrialBlock& log : logs) {
    GAITSHELF_RETURN_IF_ERROR(
        Send(log, trial->groups(log.group_index()).columns_size(), &receiver));
  }
  GAITSHELF_ASSIGN_OR_RETURN(const auto stored, receiver.Store());
  const double storing_s = SecondsSince(start);
  std::printf("through a library: taken in and stored in %.2f s; analysed, then found again\n",
              storing_s);
  Json report = Json::Object().Set("storing_s", storing_s);
  for (const char* turn : {"analysed", "found_again"}) {
    start = Clock::now();
    GAITSHELF_ASSIGN_OR_RETURN(
        const auto analysis,
        gaitshelf::service::StudyTrial(library.get(), {.trial = stored.trial.name()}));
    report.Set(turn, Tell(SecondsSince(start), analysis));
  }
  return report;
}

}  // namespace

int main(int argc, char** argv) {
  int minutes = 10;
  std::string json;
  if (!gaitshelf::bench::OptionReader("trial_analysis")
           .Whole("--minutes", {.least = 1, .most = 20}, &minutes)
           .Text("--json", "FILE", &json)
           .Read(argc, argv)) {
    return 2;
  }
  gaitshelf::test::Walker walker;
  walker.cycle_count = static_cast<int>(60.0 * minutes * walker.sine.frequency_hz);
  walker.tracking_delay_s = 0.0183;
  walker.noise_m = 2e-5;
  walker.dropped_share = 0.001;
  walker.missing_share = 0.001;
  const Json from_memory = TimeFromMemory(walker);
  const std::string folder =
      (std::filesystem::temp_directory_path() / ("trial_analysis." + std::to_string(getpid())))
          .string();
  std::filesystem::create_directory(folder);
  const absl::StatusOr<Json> through_library = TimeThroughALibrary(walker, folder);
  std::filesystem::remove_all(folder);
  if (!through_library.ok()) {
    std::fprintf(stderr, "trial_analysis: %s\n", through_library.status().ToString().c_str());
    return 1;
  }
  return gaitshelf::bench::WriteJson(Json::Object()
                                         .Set("minutes", minutes)
                                         .Set("from_memory", from_memory)
                                         .Set("through_library", *through_library),
                                     "trial_analysis",
                                     json);
}
