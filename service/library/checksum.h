// Checksum of stored bytes.
#ifndef GAITSHELF_SERVICE_LIBRARY_CHECKSUM_H_
#define GAITSHELF_SERVICE_LIBRARY_CHECKSUM_H_

#include <memory>
#include <string>

#include "absl/status/statusor.h"
#include "absl/strings/string_view.h"

namespace gaitshelf::service {

// Returns the 32 bytes of the SHA-256 of some bytes.
absl::StatusOr<std::string> Sha256(absl::string_view bytes);

// The same over bytes that come in pieces.
class Sha256Sum {
 public:
  Sha256Sum();
  ~Sha256Sum();
  Sha256Sum(const Sha256Sum&) = delete;
  Sha256Sum& operator=(const Sha256Sum&) = delete;

  void Add(absl::string_view bytes);
  // Returns the 32 bytes over all that was added; more may be added after.
  absl::StatusOr<std::string> Value() const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_CHECKSUM_H_
