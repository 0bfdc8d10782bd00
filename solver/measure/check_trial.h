// Checks of a trial's description and of its samples. Faults name group, row and column; rows are
// counted from 1.
#ifndef GAITSHELF_SOLVER_MEASURE_CHECK_TRIAL_H_
#define GAITSHELF_SOLVER_MEASURE_CHECK_TRIAL_H_

#include <cstdint>
#include <limits>
#include <string>
#include <vector>

#include "gaitshelf/v1/trial.pb.h"

#include "solver/measure/column_label.h"
#include "solver/robot/violation.h"

namespace gaitshelf::solver {

struct TrialLimits {
  // Ten minutes at 1 kHz of everything that a hexapod can log are 30 million values.
  static constexpr std::int64_t kMostValues = 40'000'000;
  // 0.8 MB, so that a block stays below the 1 MiB of a message.
  static constexpr int kMostBlockValues = 100'000;
  // Faults of samples that are told; the rest is counted.
  static constexpr int kMostSampleFaults = 20;
};

// Reads the labels of all columns into the trial and returns every fault of the description. Names
// of gait, robot and surface are only checked to be there; whether the library has them is the
// caller's to find out.
Violations ResolveTrial(const TrialParts& parts, v1::Trial* trial);

// Checks samples as they come, block by block, against a description that is free of faults.
class SampleCheck {
 public:
  // The trial must outlive the check.
  explicit SampleCheck(const v1::Trial* trial);

  // Takes the next block. Blocks of one group follow each other in order; groups may alternate.
  void Add(const v1::TrialBlock& block);
  // Says that no block follows.
  void Finish();

  // Every fault so far; the last one counts those that are not told.
  Violations violations() const;
  bool ok() const { return fault_count_ == 0; }
  std::int64_t value_count() const { return value_count_; }
  std::int64_t row_count(int group_index) const {
    return groups_[static_cast<std::size_t>(group_index)].row_count;
  }

 private:
  // What the values of a column may be, in the unit of its label.
  struct ColumnRule {
    double lower = 0.0;
    double upper = 0.0;
    bool is_time = false;
  };
  struct GroupState {
    std::vector<ColumnRule> columns;
    std::int64_t row_count = 0;
    double last_time = -std::numeric_limits<double>::infinity();
  };

  static ColumnRule RuleOf(const v1::TrialColumn& column);
  void AddSampleFault(const Fault& fault);
  void CheckRow(const v1::TrialGroup& group, const double* row, GroupState* state);

  const v1::Trial& trial_;
  std::vector<GroupState> groups_;
  Violations violations_;
  std::int64_t fault_count_ = 0;
  std::int64_t value_count_ = 0;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MEASURE_CHECK_TRIAL_H_
