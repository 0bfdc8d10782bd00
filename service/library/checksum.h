// Checksum of stored bytes.
#ifndef GAITSHELF_SERVICE_LIBRARY_CHECKSUM_H_
#define GAITSHELF_SERVICE_LIBRARY_CHECKSUM_H_

#include <string>

#include "absl/status/statusor.h"
#include "absl/strings/string_view.h"

namespace gaitshelf::service {

// Returns the 32 bytes of the SHA-256 of some bytes.
absl::StatusOr<std::string> Sha256(absl::string_view bytes);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_CHECKSUM_H_
