// Analyses a stored trial, or takes the analysis from the library.
#ifndef GAITSHELF_SERVICE_API_STUDY_TRIAL_H_
#define GAITSHELF_SERVICE_API_STUDY_TRIAL_H_

#include "gaitshelf/v1/trial_analysis.pb.h"

#include "absl/status/statusor.h"
#include "service/api/load_trial.h"
#include "service/library/library.h"

namespace gaitshelf::service {

// Errors:
//   kInvalidArgument      no name, or the options break a rule
//   kNotFound             no such trial
//   kFailedPrecondition   the trial is a bench test
//   kDataLoss             stored samples do not match their checksum
absl::StatusOr<v1::TrialAnalysis> StudyTrial(Library* library, const StudyRequest& request);

// Errors as for StudyTrial.
absl::StatusOr<v1::TrialComparison> CompareStoredTrial(Library* library,
                                                       const StudyRequest& request);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_STUDY_TRIAL_H_
