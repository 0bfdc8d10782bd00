// Where the body is by its legs alone: feet that stand stay where they are, and what the legs
// cannot tell goes as planned. Errs by what feet slide, and ever more.
#ifndef GAITSHELF_SOLVER_POSE_DEAD_RECKONER_H_
#define GAITSHELF_SOLVER_POSE_DEAD_RECKONER_H_

#include <memory>

#include "absl/types/span.h"
#include "solver/measure/planned_cycle.h"
#include "solver/pose/pose.h"

namespace gaitshelf::solver {

// What the controller knows at one step.
struct LegSample {
  double time_s = 0.0;
  // Phase of the gait that is played, 0 to 1; below 0 or NaN while it is not played, when the robot
  // stands.
  double phase_ratio = -1.0;
  // Lift and swing of each leg, m, two a leg; NaN for one that is not measured, which is taken as
  // planned. Or empty.
  absl::Span<const double> leg_position_m{};
  // Above 0.5 for each foot that bears load; NaN for one that is not sensed, which is taken as
  // planned. Or empty.
  absl::Span<const double> contact_ratio{};
};

class DeadReckoner {
 public:
  // Feet that count; a robot may have more.
  static constexpr int kMostFeet = 8;

  // The gait is periodic and its body free. The plan must outlive the reckoner.
  explicit DeadReckoner(const PlannedCycle* plan);
  DeadReckoner(DeadReckoner&& other) noexcept;
  DeadReckoner& operator=(DeadReckoner&& other) noexcept;
  ~DeadReckoner();

  // Takes a step that is later than the last, and returns the pose in a frame whose origin is where
  // the body was at the first. Allocates nothing.
  const Pose& Add(const LegSample& sample);

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_POSE_DEAD_RECKONER_H_
