#include "solver/replay/hand_tuned.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <utility>

#include "solver/base/status_macros.h"
#include "solver/plan/result.h"
#include "solver/plan/seed.h"
#include "solver/plan/stage.h"
#include "solver/replay/gait_track.h"
#include "solver/replay/model_plant.h"
#include "solver/replay/parallel.h"
#include "solver/replay/replay_model.h"
#include "solver/replay/simulate.h"

namespace gaitshelf::solver {
namespace {

// More generous than the audit, which would fail most of these gaits: a person who tunes by eye
// lets feet scuff. A foot that is drawn along slides the whole displacement.
constexpr double kRivalDragRatio = 0.5;
// A good gait needs 10 to 20 sweeps a step; one that chatters on four feet hundreds.
constexpr std::int64_t kSweepsPerStep = 40;

struct Tried {
  v1::HandTuned figures;  // of this gait alone
  bool is_accepted = false;
};

struct Seeded {
  v1::Gait gait;
  SeedParameters parameters;  // scaled
  double asked_m = 0.0;
};

absl::StatusOr<Seeded> MakeSeeded(const HandTunedRequest& request,
                                  const HandTuning& tuning,
                                  const RobotModel& model) {
  if (!request.order.task().has_advance()) {
    return absl::InvalidArgumentError(
        "order.task is no advance; hand-tuned gaits are made for an advance alone");
  }
  Seeded seeded;
  v1::GaitOrder order = request.order;
  seeded.asked_m = tuning.asked_ratio * order.task().advance().advance_m();
  order.mutable_task()->mutable_advance()->set_advance_m(seeded.asked_m);
  order.mutable_options()->clear_rng();
  Stage stage = MakeStage(model, order, Attempt(), StageKnots(order).back(), false);
  // At most nine tenths of the cycle: a foot needs time to swing.
  constexpr double kGreatestDuty = 0.9;
  seeded.parameters = DefaultSeed(model, ChoosePattern(model, order));
  seeded.parameters.duty = std::min(kGreatestDuty, tuning.duty_ratio * seeded.parameters.duty);
  seeded.parameters.clearance *= tuning.clearance_ratio;
  seeded.parameters.body_height *= tuning.height_ratio;
  SeedAdvance(seeded.parameters, &stage.problem, &stage.unknowns);
  v1::Gait& gait = seeded.gait;
  gait.set_robot(request.robot.name());
  gait.set_surface(request.surface.name());
  gait.set_stride_frequency_hz(order.stride_frequency_hz());
  *gait.mutable_task() = order.task();
  FillTrajectory(stage.problem, stage.unknowns, request.robot, &gait);
  return seeded;
}

bool IsDragging(const v1::ReplayReport& report) {
  const double limit_m = kRivalDragRatio * std::abs(report.advance_m());
  return std::any_of(report.slip_m().begin(), report.slip_m().end(), [&](double slip_m) {
    return slip_m > limit_m;
  });
}

absl::StatusOr<Tried> Try(const HandTunedRequest& request,
                          const HandTuning& tuning,
                          const RobotModel& model) {
  GAITSHELF_ASSIGN_OR_RETURN(const Seeded seeded, MakeSeeded(request, tuning, model));
  GAITSHELF_ASSIGN_OR_RETURN(const GaitTrack track, GaitTrack::Create(seeded.gait, model));
  ModelPlant plant(&model);
  SimulateRequest simulate;
  simulate.plant = &plant;
  simulate.track = &track;
  simulate.leg_controller = request.robot.leg_controller();
  simulate.cycle_count = SteadyCycleCount(request.order.stride_frequency_hz());
  simulate.sweep_limit = kSweepsPerStep * static_cast<std::int64_t>(
                                              simulate.cycle_count * track.duration() *
                                              model.scale().time_s / ReplaySettings::kLongestStepS);
  simulate.stop = request.stop;
  GAITSHELF_ASSIGN_OR_RETURN(const Simulated simulated, SimulateGait(simulate));
  Tried tried;
  const double length_m = model.scale().length_m;
  tried.figures.set_advance_m(simulated.report.advance_m());
  tried.figures.set_seed_pattern(seeded.parameters.pattern);
  tried.figures.set_duty_ratio(seeded.parameters.duty);
  tried.figures.set_asked_advance_m(seeded.asked_m);
  tried.figures.set_clearance_m(seeded.parameters.clearance * length_m);
  tried.figures.set_body_height_m(seeded.parameters.body_height * length_m);
  tried.figures.set_cpu_s(simulated.report.cpu_s());
  tried.is_accepted = simulated.trouble.empty() && !IsDragging(simulated.report);
  return tried;
}

}  // namespace

std::vector<HandTuning> HandTuningGrid(double asked_ratio) {
  std::vector<HandTuning> grid;
  for (const double duty_ratio : {1.0, 1.15}) {
    for (const double clearance_ratio : {1.0, 0.6}) {
      for (const double height_ratio : {1.0, 0.97}) {
        grid.push_back({asked_ratio, duty_ratio, clearance_ratio, height_ratio});
      }
    }
  }
  return grid;
}

absl::StatusOr<v1::Gait> MakeHandTunedGait(const HandTunedRequest& request,
                                           const HandTuning& tuning) {
  GAITSHELF_ASSIGN_OR_RETURN(const RobotModel model,
                             CreateReplayModel(request.robot, request.surface, request.leg_tables));
  GAITSHELF_ASSIGN_OR_RETURN(Seeded seeded, MakeSeeded(request, tuning, model));
  return std::move(seeded.gait);
}

absl::StatusOr<v1::HandTuned> FindHandTuned(const HandTunedRequest& request) {
  GAITSHELF_ASSIGN_OR_RETURN(const RobotModel model,
                             CreateReplayModel(request.robot, request.surface, request.leg_tables));
  const double direction = request.order.task().advance().advance_m() < 0.0 ? -1.0 : 1.0;
  v1::HandTuned best;
  double total_s = 0.0;
  int replays = 0;
  int accepted = 0;
  for (const double asked_ratio : {1.0, 0.8, 0.6}) {
    const std::vector<HandTuning> grid = HandTuningGrid(asked_ratio);
    const int count = static_cast<int>(grid.size());
    std::vector<Tried> tried(grid.size());
    const auto try_one = [&](int index) -> absl::Status {
      const auto i = static_cast<std::size_t>(index);
      GAITSHELF_ASSIGN_OR_RETURN(tried[i], Try(request, grid[i], model));
      if (request.on_replay) {
        request.on_replay();
      }
      return absl::OkStatus();
    };
    GAITSHELF_RETURN_IF_ERROR(RunPieces(count, request.thread_count, try_one));
    replays += count;
    for (const Tried& one : tried) {
      total_s += one.figures.cpu_s();
      accepted += one.is_accepted ? 1 : 0;
      // The first of equals stays, so that the answer does not depend on threads.
      if (one.is_accepted && direction * one.figures.advance_m() > direction * best.advance_m()) {
        best = one.figures;
      }
    }
    if (accepted > 0) {
      break;
    }
  }
  best.set_replay_count(replays);
  best.set_accepted_count(accepted);
  best.set_cpu_s(total_s);
  return best;
}

}  // namespace gaitshelf::solver
