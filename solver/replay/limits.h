// Every limit that the audit holds a gait to, with its reason, and the settings of the replay.
#ifndef GAITSHELF_SOLVER_REPLAY_LIMITS_H_
#define GAITSHELF_SOLVER_REPLAY_LIMITS_H_

namespace gaitshelf::solver {

struct AuditLimits {
  // Worst residual of the plan at its knots, scaled. A plan is solved to this figure; the audit
  // computes it again by its own code.
  static constexpr double kWorstResidual = 1e-6;
  // Replayed advance or rise against the plan. Replays at a finer step with a real controller stray
  // by a few percent; a plan that leans on its grid strays further (own choice).
  static constexpr double kPlanDeviationRatio = 0.10;
  // Turn per cycle against the plan's. Nothing steers the replay, and a turn is made of slipping
  // feet (own choice).
  static constexpr double kTurnDeviationRatio = 0.20;
  // What a stand may be off by in height, and drift by in a cycle, over its height (own choice).
  static constexpr double kStandRatio = 0.02;
  // Roll or pitch beyond this is a fall, rad: far outside any gait, well short of lying on the
  // side.
  static constexpr double kFallTiltRad = 0.5;
  // So is a body frame below this share of its standing height.
  static constexpr double kFallHeightRatio = 0.3;
  // Sliding under load in a cycle, as a share of the advance. A foot that is drawn along slides the
  // whole advance; a foot that slips a little at touchdown and lift-off stays far below a quarter.
  static constexpr double kDragRatio = 0.25;
  // Leg coordinate beyond its travel, as a share of half the travel. The stops are springs and give
  // on a landing; half as much again is no longer the described leg (own choice).
  static constexpr double kOvertravelRatio = 0.5;
  // Advance or rise replayed on the compiled legs less that on the whole mechanism, over the
  // plan's. Spread and rival run on the compiled legs: where these are a fifth of what a plan may
  // be off by away, they tell of another robot (own choice).
  static constexpr double kCompiledDeviationRatio = 0.02;
};

struct ReplaySettings {
  static constexpr int kCycleCount = 6;
  // Steps of the replay in one interval of the plan: at least four times finer than the plan ...
  static constexpr int kLeastStepsPerKnot = 4;
  // ... and fine enough for the sampled rate feedback of a light leg, s.
  static constexpr double kLongestStepS = 1.5e-4;
  // Cycles of its first gait that go before a transition.
  static constexpr int kCyclesBefore = 2;
  // A hop is followed for this long after its last knot, s.
  static constexpr double kSettleS = 0.1;
  // Normal force, as a share of the weight, above which a foot is loaded.
  static constexpr double kLoadedRatio = 0.01;
  // Height, as a share of the standing height, that a foot must have reached before the next
  // loading counts as a touchdown; a foot that trembles on the ground does not touch down again and
  // again.
  static constexpr double kLiftedRatio = 0.02;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_LIMITS_H_
