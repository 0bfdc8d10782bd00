#include "solver/replay/spread.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <random>

#include "absl/strings/str_cat.h"
#include "solver/base/status_macros.h"
#include "solver/replay/gait_track.h"
#include "solver/replay/model_plant.h"
#include "solver/replay/parallel.h"
#include "solver/replay/replay_model.h"
#include "solver/replay/simulate.h"
#include "solver/robot/draw.h"

namespace gaitshelf::solver {
namespace {

constexpr double kPercentile = 0.05;

struct Drawn {
  v1::Robot robot;
  v1::Surface surface;
};

// All draws are made before the first replay, so that threads cannot change them.
std::vector<Drawn> DrawAll(const SpreadRequest& request) {
  std::mt19937 generator(static_cast<unsigned>(request.rng));
  std::vector<Drawn> drawn(static_cast<std::size_t>(request.replay_count));
  for (Drawn& one : drawn) {
    one.surface = DrawSurface(request.surface, &generator);
    one.robot = DrawRobot(request.robot, &generator);
  }
  return drawn;
}

absl::StatusOr<Simulated> Replay(const SpreadRequest& request, const Drawn& drawn) {
  GAITSHELF_ASSIGN_OR_RETURN(const RobotModel model, CreateReplayModel(drawn.robot, drawn.surface));
  GAITSHELF_ASSIGN_OR_RETURN(const GaitTrack track, GaitTrack::Create(request.gait, model));
  ModelPlant plant(&model);
  SimulateRequest simulate;
  simulate.plant = &plant;
  simulate.track = &track;
  simulate.leg_controller = drawn.robot.leg_controller();
  simulate.cycle_count = request.cycle_count;
  simulate.stop = request.stop;
  return SimulateGait(simulate);
}

// Value at the position ratio * (n - 1) of sorted values, linear between neighbours.
double Percentile(const std::vector<double>& sorted, double ratio) {
  const double at = ratio * static_cast<double>(sorted.size() - 1);
  const auto left = static_cast<std::size_t>(at);
  const std::size_t right = std::min(left + 1, sorted.size() - 1);
  const double share = at - static_cast<double>(left);
  return (1.0 - share) * sorted[left] + share * sorted[right];
}

}  // namespace

v1::Spread SummarizeSpread(const std::vector<DrawnReplay>& replays, double direction) {
  v1::Spread spread;
  if (replays.empty()) {
    return spread;
  }
  const double sign = direction < 0.0 ? -1.0 : 1.0;
  const auto count = static_cast<double>(replays.size());
  std::vector<double> along_m;
  double fallen = 0.0;
  for (const DrawnReplay& replay : replays) {
    along_m.push_back(sign * replay.stride_m);
    fallen += replay.has_fallen ? 1.0 : 0.0;
  }
  std::sort(along_m.begin(), along_m.end());
  // Differences from the least: equal values then have exactly no deviation.
  double sum_m = 0.0;
  for (const double value_m : along_m) {
    sum_m += value_m - along_m.front();
  }
  const double mean_above_m = sum_m / count;
  double squares_m2 = 0.0;
  for (const double value_m : along_m) {
    const double off_m = value_m - along_m.front() - mean_above_m;
    squares_m2 += off_m * off_m;
  }
  spread.set_replay_count(static_cast<int>(replays.size()));
  spread.set_mean_m(sign * (along_m.front() + mean_above_m));
  spread.set_deviation_m(replays.size() > 1 ? std::sqrt(squares_m2 / (count - 1.0)) : 0.0);
  spread.set_p05_m(sign * Percentile(along_m, kPercentile));
  spread.set_least_m(sign * along_m.front());
  spread.set_fall_ratio(fallen / count);
  return spread;
}

absl::StatusOr<v1::Spread> ComputeSpread(const SpreadRequest& request) {
  if (request.replay_count < 1) {
    return absl::InvalidArgumentError(absl::StrCat(
        "replay_count is ", request.replay_count, "; a spread needs at least one replay"));
  }
  const std::vector<Drawn> drawn = DrawAll(request);
  std::vector<DrawnReplay> replays(drawn.size());
  std::vector<double> cpu_s(drawn.size());
  const auto replay_one = [&](int index) -> absl::Status {
    const auto i = static_cast<std::size_t>(index);
    GAITSHELF_ASSIGN_OR_RETURN(const Simulated simulated, Replay(request, drawn[i]));
    const v1::ReplayReport& report = simulated.report;
    replays[i].has_fallen = !simulated.trouble.empty();
    if (!replays[i].has_fallen) {
      replays[i].stride_m = request.gait.is_periodic() ? report.advance_m() : report.rise_m();
    }
    cpu_s[i] = report.cpu_s();
    if (request.on_replay) {
      request.on_replay();
    }
    return absl::OkStatus();
  };
  GAITSHELF_RETURN_IF_ERROR(RunPieces(request.replay_count, request.thread_count, replay_one));
  v1::Spread spread =
      SummarizeSpread(replays, request.gait.is_periodic() ? request.gait.advance_m() : 1.0);
  spread.set_rng(request.rng);
  double total_s = 0.0;
  for (const double one_s : cpu_s) {
    total_s += one_s;
  }
  spread.set_cpu_s(total_s);
  return spread;
}

}  // namespace gaitshelf::solver
