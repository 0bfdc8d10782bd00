// The analysis of a trial of a gait. What could not be found is absent, and a note says why.
#ifndef GAITSHELF_SOLVER_MEASURE_ANALYSE_TRIAL_H_
#define GAITSHELF_SOLVER_MEASURE_ANALYSE_TRIAL_H_

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/trial_analysis.pb.h"

#include "absl/status/statusor.h"
#include "solver/measure/planned_cycle.h"
#include "solver/measure/trial_table.h"
#include "solver/robot/violation.h"

namespace gaitshelf::solver {

// Counts up whenever the same trial would give other figures.
inline constexpr int kAnalysisVersion = 1;

// Returns every fault of the options.
Violations CheckAnalysisOptions(const v1::AnalysisOptions& options);

struct AnalysisRequest {
  const TrialTable* table = nullptr;  // of a trial of the gait
  const v1::Gait* gait = nullptr;
  const PlannedCycle* plan = nullptr;  // of the gait
  v1::AnalysisOptions options{};       // free of faults
};

v1::TrialAnalysis AnalyseTrial(const AnalysisRequest& request);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MEASURE_ANALYSE_TRIAL_H_
