#include "service/library/checksum.h"

#include <array>

#include <openssl/evp.h>

namespace gaitshelf::service {
namespace {

absl::Status Failure() {
  return absl::InternalError("the checksum of stored bytes could not be computed");
}

using Context = std::unique_ptr<EVP_MD_CTX, decltype(&EVP_MD_CTX_free)>;

// Looked up once and not for each sum.
const EVP_MD* Algorithm() {
  static const EVP_MD* const algorithm = EVP_MD_fetch(nullptr, "SHA256", nullptr);
  return algorithm;
}

Context MakeContext() { return {EVP_MD_CTX_new(), &EVP_MD_CTX_free}; }

}  // namespace

absl::StatusOr<std::string> Sha256(absl::string_view bytes) {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int size = 0;
  if (EVP_Digest(bytes.data(), bytes.size(), digest.data(), &size, Algorithm(), nullptr) != 1) {
    return Failure();
  }
  return std::string(digest.begin(), digest.begin() + size);
}

struct Sha256Sum::State {
  Context context = MakeContext();
  bool is_sound = true;
};

Sha256Sum::Sha256Sum() : state_(std::make_unique<State>()) {
  state_->is_sound = state_->context != nullptr &&
                     EVP_DigestInit_ex(state_->context.get(), Algorithm(), nullptr) == 1;
}

Sha256Sum::~Sha256Sum() = default;

void Sha256Sum::Add(absl::string_view bytes) {
  state_->is_sound =
      state_->is_sound && EVP_DigestUpdate(state_->context.get(), bytes.data(), bytes.size()) == 1;
}

absl::StatusOr<std::string> Sha256Sum::Value() const {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int size = 0;
  const Context copy = MakeContext();
  if (!state_->is_sound || copy == nullptr ||
      EVP_MD_CTX_copy_ex(copy.get(), state_->context.get()) != 1 ||
      EVP_DigestFinal_ex(copy.get(), digest.data(), &size) != 1) {
    return Failure();
  }
  return std::string(digest.begin(), digest.begin() + size);
}

}  // namespace gaitshelf::service
