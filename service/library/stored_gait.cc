#include "service/library/stored_gait.h"

#include "absl/strings/str_cat.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {

absl::StatusOr<v1::Gait> LoadGait(Library* library, const std::string& name) {
  GAITSHELF_ASSIGN_OR_RETURN(const SharedBytes bytes, library->GetGaitBytes(name));
  v1::Gait gait;
  if (!gait.ParseFromString(*bytes)) {
    return absl::DataLossError(absl::StrCat("gait ", name, ": the stored bytes are no gait"));
  }
  return gait;
}

}  // namespace gaitshelf::service
