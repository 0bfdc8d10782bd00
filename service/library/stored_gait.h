// Reads a gait of the library as a message. Who only hands it on takes Library::GetGaitBytes.
#ifndef GAITSHELF_SERVICE_LIBRARY_STORED_GAIT_H_
#define GAITSHELF_SERVICE_LIBRARY_STORED_GAIT_H_

#include <string>

#include "gaitshelf/v1/gait.pb.h"

#include "absl/status/statusor.h"
#include "service/library/library.h"

namespace gaitshelf::service {

// Errors:
//   kNotFound   no such gait
//   kDataLoss   the stored bytes are damaged
absl::StatusOr<v1::Gait> LoadGait(Library* library, const std::string& name);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_STORED_GAIT_H_
