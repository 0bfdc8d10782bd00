// A trial made by a test, with its labels and samples read as the library reads them.
#ifndef GAITSHELF_TESTS_SUPPORT_READ_TRIAL_H_
#define GAITSHELF_TESTS_SUPPORT_READ_TRIAL_H_

#include <memory>
#include <stdexcept>
#include <vector>

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/trial.pb.h"

#include "solver/measure/check_trial.h"
#include "solver/measure/trial_table.h"

namespace gaitshelf::test {

// A trial with its samples read; keeps both in place.
struct ReadTrial {
  std::unique_ptr<v1::Trial> trial = std::make_unique<v1::Trial>();
  std::vector<v1::TrialBlock> blocks{};
  std::unique_ptr<solver::TrialTable> table{};

  // Reads labels and samples; call it once.
  void Read(const v1::Robot& robot) {
    const solver::Violations faults = solver::ResolveTrial(solver::PartsOf(robot), trial.get());
    if (!faults.empty()) {
      throw std::runtime_error(faults[0].field() + ": " + faults[0].problem());
    }
    table = std::make_unique<solver::TrialTable>(trial.get());
    for (const v1::TrialBlock& block : blocks) {
      table->Add(block);
    }
    table->Finish();
  }
};

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SUPPORT_READ_TRIAL_H_
