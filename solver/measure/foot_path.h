// Where a foot was, as tracked, or as body and leg put it.
#ifndef GAITSHELF_SOLVER_MEASURE_FOOT_PATH_H_
#define GAITSHELF_SOLVER_MEASURE_FOOT_PATH_H_

#include <vector>

#include <Eigen/Core>

#include "solver/measure/trial_view.h"

namespace gaitshelf::solver {

class FootPath {
 public:
  FootPath(const TrialView& view, Eigen::Index foot);

  // True when the foot was tracked along x, or when body x and the leg's swing were measured.
  bool is_measured() const { return is_measured_; }
  // True when it is worked out of body and leg. Coordinates that were not measured, such as roll,
  // are then those of the plan at the phase.
  bool is_derived() const { return is_measured_ && !tracked_[0]; }
  // Place along x and y, m, in the frame of the body position; NaN where it is not known.
  Eigen::Vector2d At(double time_s, double phase_ratio);

 private:
  const PlannedCycle& plan_;
  const Eigen::Index foot_;
  bool is_measured_ = false;
  std::vector<Reading> tracked_;      // x, y
  std::vector<Reading> coordinates_;  // of the body, then lift and swing of the foot's leg
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MEASURE_FOOT_PATH_H_
