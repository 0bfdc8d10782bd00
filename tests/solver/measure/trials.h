// Trials that tests build in code.
#ifndef GAITSHELF_TESTS_SOLVER_MEASURE_TRIALS_H_
#define GAITSHELF_TESTS_SOLVER_MEASURE_TRIALS_H_

#include <string>
#include <vector>

#include "gaitshelf/v1/trial.pb.h"

#include "solver/measure/column_label.h"

namespace gaitshelf::test {

inline v1::TrialGroup* AddGroup(const std::string& name,
                                v1::TrialClock clock,
                                const std::vector<std::string>& labels,
                                v1::Trial* trial) {
  v1::TrialGroup* group = trial->add_groups();
  group->set_name(name);
  group->set_clock(clock);
  for (const std::string& label : labels) {
    group->add_columns()->set_label(label);
  }
  return group;
}

inline v1::TrialBlock MakeBlock(int group_index, int first_row, const std::vector<double>& values) {
  v1::TrialBlock block;
  block.set_group_index(group_index);
  block.set_first_row(first_row);
  block.mutable_values_as_labelled()->Add(values.begin(), values.end());
  return block;
}

// A trial of a gait with a log of its own for each clock.
inline v1::Trial MakeTrial() {
  v1::Trial trial;
  trial.set_kind(v1::TRIAL_KIND_GAIT);
  trial.set_gait("g-1");
  AddGroup(
      "tracking", v1::TRIAL_CLOCK_TRACKING, {"time [ms]", "body x [mm]", "leg-1 contact"}, &trial);
  AddGroup("on-board", v1::TRIAL_CLOCK_ON_BOARD, {"leg-1 swing [mm]"}, &trial)
      ->set_sample_rate_hz(1000.0);
  return trial;
}

inline solver::TrialParts MakeParts() {
  return {.leg_names = {"leg-1", "leg-2"}, .foot_names = {"leg-1", "leg-2"}};
}

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SOLVER_MEASURE_TRIALS_H_
