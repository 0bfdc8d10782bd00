#include "service/api/load_trial.h"

#include <utility>

#include "absl/strings/str_cat.h"
#include "service/api/status.h"
#include "service/library/stored_gait.h"
#include "solver/base/status_macros.h"
#include "solver/leg/compile_leg.h"
#include "solver/measure/analyse_trial.h"

namespace gaitshelf::service {
namespace {

// Tables that an older program kept, or none, are made anew.
absl::StatusOr<v1::LegTables> GetLegTables(Library* library, const v1::StoredRobot& robot) {
  absl::StatusOr<v1::LegTables> tables = library->GetLegTables(robot.digest());
  if (absl::IsNotFound(tables.status()) || absl::IsDataLoss(tables.status())) {
    return solver::CompileLegs(robot.robot());
  }
  return tables;
}

}  // namespace

absl::StatusOr<v1::Trial> GetTrialOfGait(Library* library, const StudyRequest& request) {
  if (request.trial.empty()) {
    return MissingField("name", "give a trial's name");
  }
  const solver::Violations faults = solver::CheckAnalysisOptions(request.options);
  if (!faults.empty()) {
    return InvalidRequest(faults);
  }
  GAITSHELF_ASSIGN_OR_RETURN(v1::Trial trial, library->GetTrial(request.trial));
  if (trial.kind() != v1::TRIAL_KIND_GAIT) {
    return absl::FailedPreconditionError(absl::StrCat(
        "trial '", trial.name(), "' is a bench test; only trials of gaits have cycles"));
  }
  return trial;
}

absl::StatusOr<PlannedGait> LoadPlan(Library* library, const std::string& name) {
  GAITSHELF_ASSIGN_OR_RETURN(v1::Gait gait, LoadGait(library, name));
  GAITSHELF_ASSIGN_OR_RETURN(const v1::StoredRobot robot,
                             library->GetRobot(gait.robot(), gait.robot_digest()));
  GAITSHELF_ASSIGN_OR_RETURN(const v1::StoredSurface surface,
                             library->GetSurface(gait.surface(), gait.surface_digest()));
  GAITSHELF_ASSIGN_OR_RETURN(const v1::LegTables tables, GetLegTables(library, robot));
  GAITSHELF_ASSIGN_OR_RETURN(solver::PlannedCycle cycle,
                             solver::PlannedCycle::Create({.robot = robot.robot(),
                                                           .surface = surface.surface(),
                                                           .gait = gait,
                                                           .leg_tables = &tables}));
  return PlannedGait{.gait = std::move(gait), .cycle = std::move(cycle)};
}

absl::Status ReadSamples(Library* library, const std::string& trial, solver::TrialTable* table) {
  GAITSHELF_ASSIGN_OR_RETURN(const int count, library->CountTrialBlocks(trial));
  v1::TrialBlock block;
  for (int number = 0; number < count; ++number) {
    GAITSHELF_ASSIGN_OR_RETURN(const std::string bytes, library->GetTrialBlock(trial, number));
    if (!block.ParseFromString(bytes)) {
      return absl::DataLossError(
          absl::StrCat("block ", number, " of trial '", trial, "' cannot be read back"));
    }
    table->Add(block);
  }
  table->Finish();
  return absl::OkStatus();
}

}  // namespace gaitshelf::service
