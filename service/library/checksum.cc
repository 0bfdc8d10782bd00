#include "service/library/checksum.h"

#include <array>

#include <openssl/evp.h>

namespace gaitshelf::service {

absl::StatusOr<std::string> Sha256(absl::string_view bytes) {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int size = 0;
  if (EVP_Digest(bytes.data(), bytes.size(), digest.data(), &size, EVP_sha256(), nullptr) != 1) {
    return absl::InternalError("the checksum of stored bytes could not be computed");
  }
  return std::string(digest.begin(), digest.begin() + size);
}

}  // namespace gaitshelf::service
