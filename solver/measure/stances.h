// When a foot stood, from a contact sensor or a force on the foot.
#ifndef GAITSHELF_SOLVER_MEASURE_STANCES_H_
#define GAITSHELF_SOLVER_MEASURE_STANCES_H_

#include <vector>

#include "solver/measure/trial_view.h"

namespace gaitshelf::solver {

// Times on the controller's clock. A transition lies midway between the two rows that show it.
struct Stance {
  double begin_s = 0.0;
  double end_s = 0.0;
  bool has_touchdown = false;  // false when the record begins in it
  bool has_lift_off = false;   // false when the record ends in it
};

struct Stances {
  bool is_measured = false;
  double first_s = 0.0;  // the record's
  double last_s = 0.0;
  std::vector<Stance> list{};
};

// Returns the stances of a foot by its contact sensor, or else by its normal force. Gaps and
// stances shorter than shortest_s are bouncing and do not count.
Stances FindStances(const TrialView& view, Eigen::Index foot, double shortest_s);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MEASURE_STANCES_H_
