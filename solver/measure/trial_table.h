// The samples of a trial in SI units, column by column, ready for analysis.
#ifndef GAITSHELF_SOLVER_MEASURE_TRIAL_TABLE_H_
#define GAITSHELF_SOLVER_MEASURE_TRIAL_TABLE_H_

#include <string>
#include <vector>

#include "gaitshelf/v1/trial.pb.h"
#include "gaitshelf/v1/trial_analysis.pb.h"

namespace gaitshelf::solver {

// One measured quantity with the times of its samples. Points into a table and must not outlive it.
struct Channel {
  const std::vector<double>* time_s = nullptr;  // strictly increasing
  const std::vector<double>* values = nullptr;  // SI; NaN where a sample is missing
  v1::TrialClock clock = v1::TRIAL_CLOCK_UNSPECIFIED;
  double interval_s = 0.0;  // median between rows

  explicit operator bool() const { return values != nullptr; }
};

// What is looked for: a quantity of a part, such as the swing of a leg.
struct ChannelName {
  v1::TrialQuantity quantity = v1::TRIAL_QUANTITY_UNSPECIFIED;
  std::string part{};
  int axis = 0;
};

class TrialTable {
 public:
  // Makes an empty table for a trial whose labels were read. The trial must outlive it.
  explicit TrialTable(const v1::Trial* trial);
  TrialTable(const TrialTable&) = delete;
  TrialTable& operator=(const TrialTable&) = delete;

  // Adds the rows of a block that was checked.
  void Add(const v1::TrialBlock& block);
  // Makes times of rates. Call it once, after the last block.
  void Finish();

  const v1::Trial& trial() const { return trial_; }
  // Returns the channel of a name: of several the one on the wanted clock, else the first. Empty
  // when nothing of that name was measured.
  Channel Find(const ChannelName& name, v1::TrialClock wanted = v1::TRIAL_CLOCK_UNSPECIFIED) const;
  // Returns the channel of a name on one clock only.
  Channel FindOn(const ChannelName& name, v1::TrialClock clock) const;
  // Returns the values of a column, whether its rows have times or are repetitions without any;
  // null when nothing of that name was measured.
  const std::vector<double>* FindColumn(const ChannelName& name) const;
  // Tells how each group was sampled.
  std::vector<v1::SamplingReport> ReportSampling() const;

 private:
  struct Group {
    std::vector<double> time_s;
    std::vector<std::vector<double>> columns;
    double interval_s = 0.0;
  };

  const v1::Trial& trial_;
  std::vector<Group> groups_;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MEASURE_TRIAL_TABLE_H_
