// What an iteration of the planner is made of, each piece timed by itself.
#ifndef GAITSHELF_TESTS_BENCH_STEP_COST_H_
#define GAITSHELF_TESTS_BENCH_STEP_COST_H_

#include "absl/status/statusor.h"
#include "solver/plan/stage.h"

namespace gaitshelf::bench {

// Seconds. The first five together are a linearisation.
struct StepCost {
  double laws_s = 0.0;         // laws and their derivatives
  double rows_s = 0.0;         // from these to rows with their jacobians
  double products_s = 0.0;     // from rows to normal equations: what is left of the linearisation
  double elimination_s = 0.0;  // factoring them
  double directions_s = 0.0;   // the dogleg's two directions
  double trial_s = 0.0;        // laws and cost without derivatives

  double Linearisation() const {
    return laws_s + rows_s + products_s + elimination_s + directions_s;
  }
};

// Times every piece at the stage's unknowns, the least of so many times.
absl::StatusOr<StepCost> MeasureStep(solver::Stage* stage, int times);

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_STEP_COST_H_
