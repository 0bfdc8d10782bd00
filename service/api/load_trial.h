// Takes from the library what a study of a trial reads: its description, its samples and its gait.
#ifndef GAITSHELF_SERVICE_API_LOAD_TRIAL_H_
#define GAITSHELF_SERVICE_API_LOAD_TRIAL_H_

#include <string>

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/trial.pb.h"
#include "gaitshelf/v1/trial_analysis.pb.h"

#include "absl/status/statusor.h"
#include "service/library/library.h"
#include "solver/measure/planned_cycle.h"
#include "solver/measure/trial_table.h"

namespace gaitshelf::service {

struct StudyRequest {
  std::string trial{};  // its name
  v1::AnalysisOptions options{};
};

// A gait with what it was planned for.
struct PlannedGait {
  v1::Gait gait;
  solver::PlannedCycle cycle;
};

// Errors:
//   kInvalidArgument      no name, or the options break a rule
//   kNotFound             no such trial
//   kFailedPrecondition   the trial is a bench test
absl::StatusOr<v1::Trial> GetTrialOfGait(Library* library, const StudyRequest& request);

// Errors:
//   kNotFound   no such gait
//   kDataLoss   the gait cannot be read back
absl::StatusOr<PlannedGait> LoadPlan(Library* library, const std::string& name);

// Fills a table that was made for the trial, and finishes it.
//
// Errors:
//   kDataLoss   stored samples do not match their checksum
absl::Status ReadSamples(Library* library, const std::string& trial, solver::TrialTable* table);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_LOAD_TRIAL_H_
