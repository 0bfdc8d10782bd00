// The planned pose of the body at every phase, as a table that is quick to read.
#ifndef GAITSHELF_SOLVER_POSE_PLANNED_BODY_H_
#define GAITSHELF_SOLVER_POSE_PLANNED_BODY_H_

#include <Eigen/Core>

#include "solver/measure/planned_cycle.h"
#include "solver/pose/pose.h"

namespace gaitshelf::solver {

class PlannedBody {
 public:
  // The gait is periodic and its body free.
  explicit PlannedBody(const PlannedCycle& plan);

  // Pose at a phase in cycles, moved on by the advance for each whole cycle. Allocates nothing.
  Pose At(double phase_ratio) const;

 private:
  Eigen::Matrix<double, 6, Eigen::Dynamic> table_;  // a column a phase, the first one again last
  double advance_m_ = 0.0;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_POSE_PLANNED_BODY_H_
