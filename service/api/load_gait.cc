#include "service/api/load_gait.h"

#include "absl/strings/str_cat.h"
#include "service/api/status.h"
#include "service/library/stored_gait.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

absl::Status CheckGood(const v1::Gait& gait) {
  if (gait.audit().verdict() == v1::VERDICT_GOOD) {
    return absl::OkStatus();
  }
  std::string reasons;
  for (const std::string& reason : gait.audit().reasons()) {
    absl::StrAppend(&reasons, "; ", reason);
  }
  return WithReason(
      absl::FailedPreconditionError(absl::StrCat("gait ",
                                                 gait.name(),
                                                 " is not good, so it is not played",
                                                 reasons.empty() ? "; it has no audit" : reasons)),
      "GAIT_NOT_GOOD");
}

}  // namespace

absl::StatusOr<v1::Gait> LoadGoodGait(Library* library, const std::string& name) {
  GAITSHELF_ASSIGN_OR_RETURN(v1::Gait gait, LoadGait(library, name));
  GAITSHELF_RETURN_IF_ERROR(CheckGood(gait));
  return gait;
}

absl::Status CheckArmed(const std::string& armed_by, bool is_preview) {
  if (!armed_by.empty() || is_preview) {
    return absl::OkStatus();
  }
  return WithReason(absl::FailedPreconditionError(
                        "armed_by is missing; a stream may move parts and put high voltage on "
                        "actuators: name the present person who armed the drive, or set "
                        "is_preview when the samples are only looked at"),
                    "NOT_ARMED");
}

}  // namespace gaitshelf::service
