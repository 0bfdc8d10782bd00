// Plays a gait on the robot under its leg controller and reports what happened.
#ifndef GAITSHELF_SOLVER_REPLAY_SIMULATE_H_
#define GAITSHELF_SOLVER_REPLAY_SIMULATE_H_

#include <atomic>
#include <cstdint>
#include <functional>
#include <string>

#include <Eigen/Core>

#include "gaitshelf/v1/audit.pb.h"
#include "gaitshelf/v1/robot.pb.h"

#include "absl/status/statusor.h"
#include "solver/replay/gait_track.h"
#include "solver/replay/limits.h"
#include "solver/replay/plant.h"

namespace gaitshelf::solver {

// The plant after one step, in its own units.
struct ReplaySample {
  double time = 0.0;                // since the planned state at knot 0
  const Eigen::VectorXd& position;  // coordinates of the outline
  const Eigen::VectorXd& velocity;
  const Eigen::VectorXd& voltage_v;  // that the drives were held at, V
  const StepReport& step;
};

// The gaits that a transition is replayed between: from a knot of the first, to one of the second.
struct ReplayedGaits {
  const GaitTrack* from = nullptr;
  const GaitTrack* to = nullptr;
  int from_knot = 0;
  int to_knot = 0;
};

struct SimulateRequest {
  ReplayPlant* plant = nullptr;
  const GaitTrack* track = nullptr;
  ReplayedGaits gaits{};  // only of a transition
  v1::LegController leg_controller;
  // Of a periodic gait, or of the one that a transition leads into, at least 2.
  int cycle_count = ReplaySettings::kCycleCount;
  // Sweeps over the feet after which a replay is given up, as trouble; 0 means never. A measure of
  // work that does not depend on the machine: a foot that chatters costs hundreds of times a good
  // step.
  std::int64_t sweep_limit = 0;
  const std::atomic<bool>* stop = nullptr;  // checked at every step
  // Sees every step. May be absent.
  std::function<void(const ReplaySample&)> on_step{};
};

struct Simulated {
  v1::ReplayReport report;
  // Why the simulation ended early, a sentence without full stop; empty when it ran to its end.
  std::string trouble;
  std::int64_t sweep_count = 0;
};

// Returns how many cycles show the steady stride of a gait: as many as half a second holds, at
// least 2 and at most as many as an audit replays. Slow strides are steady from the second on.
int SteadyCycleCount(double stride_frequency_hz);

// Replays the cycles of a periodic gait from its planned state, or a hop once and then its
// settling. A transition is replayed after cycles of its first gait and before those of the second,
// and it is these that the report is about. A planned posture that the robot cannot take, a fall or
// a step without convergence ends it early and is reported as trouble, not as an error.
//
// Errors:
//   kCancelled   the stop flag was raised
absl::StatusOr<Simulated> SimulateGait(const SimulateRequest& request);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_SIMULATE_H_
