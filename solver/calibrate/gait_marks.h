// What tells one replay of a gait from another: the mean and the first harmonics of each leg
// coordinate's cycle, and how far the body went and turned in it. Measured in the same way from a
// trial and from a replay.
#ifndef GAITSHELF_SOLVER_CALIBRATE_GAIT_MARKS_H_
#define GAITSHELF_SOLVER_CALIBRATE_GAIT_MARKS_H_

#include <string>
#include <vector>

#include <Eigen/Core>

#include "absl/status/statusor.h"
#include "solver/measure/planned_cycle.h"
#include "solver/measure/trial_table.h"
#include "solver/replay/record.h"

namespace gaitshelf::solver {

// A channel gives one mark for each coefficient; marks of one channel stand together.
struct MarkChannel {
  std::string name;  // such as "front-left lift" or "stride"
  std::string unit;  // m or rad
  Eigen::Index first = 0;
  Eigen::Index count = 0;
};

struct GaitMarks {
  std::vector<MarkChannel> channels;
  // A row a mark, a column a cycle, SI units; NaN where a cycle has too few samples.
  Eigen::MatrixXd cycles;
};

// Mean of each mark over the cycles and the variance of that mean, from their scatter.
struct MarkMeans {
  Eigen::VectorXd mean;
  Eigen::VectorXd variance;
  Eigen::VectorXi count;  // cycles that had the mark
};

// Measures the cycles of a trial of the gait, cut where the logged phase passes 0, without the
// first left_out_count ones. What was not measured has no channel.
//
// Errors:
//   kInvalidArgument   no phase was logged, the gait has no cycles, or fewer than least_cycles
//                      count
absl::StatusOr<GaitMarks> MarkTrial(const TrialTable& table,
                                    const v1::Gait& gait,
                                    const PlannedCycle& plan,
                                    int left_out_count,
                                    int least_cycles);

// Measures the replay of a gait, with the same marks. A replay that ended early has those of the
// cycles that it made.
absl::StatusOr<GaitMarks> MarkReplay(const Recording& recording,
                                     const v1::Robot& robot,
                                     const v1::Gait& gait,
                                     const PlannedCycle& plan,
                                     int left_out_count);

MarkMeans MeansOf(const GaitMarks& marks);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_CALIBRATE_GAIT_MARKS_H_
