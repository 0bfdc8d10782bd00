// Loads gaits that are to be played, and asks who armed the drive.
#ifndef GAITSHELF_SERVICE_API_LOAD_GAIT_H_
#define GAITSHELF_SERVICE_API_LOAD_GAIT_H_

#include <string>

#include "gaitshelf/v1/gait.pb.h"

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "service/library/library.h"

namespace gaitshelf::service {

// Errors:
//   kNotFound             no such gait
//   kFailedPrecondition   the gait is not good; its reasons are told
//   kDataLoss             the stored bytes are damaged
absl::StatusOr<v1::Gait> LoadGoodGait(Library* library, const std::string& name);

// Samples that may reach a drive need the name of a person.
//
// Errors:
//   kFailedPrecondition   neither is given
absl::Status CheckArmed(const std::string& armed_by, bool is_preview);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_LOAD_GAIT_H_
