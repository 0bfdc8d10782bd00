#include "service/api/study_trial.h"

#include <optional>
#include <utility>

#include "service/api/load_trial.h"
#include "solver/base/status_macros.h"
#include "solver/measure/analyse_trial.h"
#include "solver/measure/compare_trial.h"

namespace gaitshelf::service {
namespace {

// The stored analysis of this version and these options, or a new one, which is then stored.
absl::StatusOr<v1::TrialAnalysis> Analyse(Library* library,
                                          const v1::Trial& trial,
                                          const v1::AnalysisOptions& options,
                                          const PlannedGait& planned) {
  solver::TrialTable table(&trial);
  GAITSHELF_RETURN_IF_ERROR(ReadSamples(library, trial.name(), &table));
  v1::TrialAnalysis analysis = solver::AnalyseTrial(
      {.table = &table, .gait = &planned.gait, .plan = &planned.cycle, .options = options});
  GAITSHELF_RETURN_IF_ERROR(library->PutTrialAnalysis(analysis));
  return analysis;
}

absl::StatusOr<std::optional<v1::TrialAnalysis>> FindStored(Library* library,
                                                            const StudyRequest& request) {
  return library->FindTrialAnalysis(request.trial, solver::kAnalysisVersion, request.options);
}

}  // namespace

absl::StatusOr<v1::TrialAnalysis> StudyTrial(Library* library, const StudyRequest& request) {
  GAITSHELF_ASSIGN_OR_RETURN(const v1::Trial trial, GetTrialOfGait(library, request));
  GAITSHELF_ASSIGN_OR_RETURN(std::optional<v1::TrialAnalysis> stored, FindStored(library, request));
  if (stored.has_value()) {
    return *std::move(stored);
  }
  GAITSHELF_ASSIGN_OR_RETURN(const PlannedGait planned, LoadPlan(library, trial.gait()));
  return Analyse(library, trial, request.options, planned);
}

absl::StatusOr<v1::TrialComparison> CompareStoredTrial(Library* library,
                                                       const StudyRequest& request) {
  GAITSHELF_ASSIGN_OR_RETURN(const v1::Trial trial, GetTrialOfGait(library, request));
  GAITSHELF_ASSIGN_OR_RETURN(std::optional<v1::TrialAnalysis> analysis,
                             FindStored(library, request));
  GAITSHELF_ASSIGN_OR_RETURN(const PlannedGait planned, LoadPlan(library, trial.gait()));
  if (!analysis.has_value()) {
    GAITSHELF_ASSIGN_OR_RETURN(analysis, Analyse(library, trial, request.options, planned));
  }
  return solver::CompareTrial(*analysis, planned.gait, planned.cycle);
}

}  // namespace gaitshelf::service
