#include "service/access/certificate.h"

#include <array>
#include <cerrno>
#include <ctime>
#include <fstream>
#include <iterator>
#include <memory>
#include <optional>
#include <system_error>
#include <vector>

#include <openssl/bio.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/x509.h>
#include <openssl/x509_vfy.h>
#include <sys/stat.h>

#include "absl/strings/escaping.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "absl/strings/string_view.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

template <auto kFree>
struct Freer {
  template <typename T>
  void operator()(T* pointer) const {
    kFree(pointer);
  }
};

using Bio = std::unique_ptr<BIO, Freer<BIO_free>>;
using Certificate = std::unique_ptr<X509, Freer<X509_free>>;
using Key = std::unique_ptr<EVP_PKEY, Freer<EVP_PKEY_free>>;
using Store = std::unique_ptr<X509_STORE, Freer<X509_STORE_free>>;
using StoreContext = std::unique_ptr<X509_STORE_CTX, Freer<X509_STORE_CTX_free>>;

Bio Reader(const std::string& text) {
  return Bio(BIO_new_mem_buf(text.data(), static_cast<int>(text.size())));
}

absl::Time TimeOf(const ASN1_TIME* time) {
  std::tm parts{};
  if (ASN1_TIME_to_tm(time, &parts) != 1) {
    return absl::InfinitePast();
  }
  return absl::FromTM(parts, absl::UTCTimeZone());
}

// The certificates of a text, in their order.
std::vector<Certificate> ReadAll(const std::string& pem) {
  std::vector<Certificate> all;
  const Bio reader = Reader(pem);
  while (X509* next = PEM_read_bio_X509(reader.get(), nullptr, nullptr, nullptr)) {
    all.emplace_back(next);
  }
  return all;
}

// Reads a file; a fault is added to the list.
std::optional<std::string> ReadFile(const std::string& path, std::vector<std::string>* faults) {
  std::ifstream file(path, std::ios::binary);
  if (!file) {
    faults->push_back(
        absl::StrCat("cannot read ", path, ": ", std::generic_category().message(errno)));
    return std::nullopt;
  }
  return std::string{std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
}

// Verifies a server's certificate as a client would; returns what is wrong, or nothing.
std::string Verify(const std::vector<Certificate>& chain,
                   const std::vector<Certificate>& authorities,
                   absl::Time now) {
  const Store store(X509_STORE_new());
  for (const Certificate& authority : authorities) {
    X509_STORE_add_cert(store.get(), authority.get());
  }
  STACK_OF(X509)* others = sk_X509_new_null();
  for (std::size_t i = 1; i < chain.size(); ++i) {
    sk_X509_push(others, chain[i].get());
  }
  const StoreContext context(X509_STORE_CTX_new());
  X509_STORE_CTX_init(context.get(), store.get(), chain[0].get(), others);
  X509_STORE_CTX_set_default(context.get(), "ssl_server");
  X509_STORE_CTX_set_time(context.get(), 0, absl::ToTimeT(now));
  const bool is_good = X509_verify_cert(context.get()) == 1;
  const int error = X509_STORE_CTX_get_error(context.get());
  sk_X509_free(others);
  return is_good ? "" : X509_verify_cert_error_string(error);
}

void CheckKey(const std::string& path,
              const std::string& pem,
              const X509* certificate,
              std::vector<std::string>* faults) {
  struct stat info {};
  if (stat(path.c_str(), &info) == 0 && (info.st_mode & (S_IRWXO | S_IWGRP)) != 0) {
    faults->push_back(absl::StrCat(path, " is open to others; close it with chmod 600"));
  }
  const Bio reader = Reader(pem);
  const Key key(PEM_read_bio_PrivateKey(
      reader.get(),
      nullptr,
      // Asks nobody for a password.
      [](char* /*password*/, int /*size*/, int /*writes*/, void* /*argument*/) { return 0; },
      nullptr));
  if (key == nullptr) {
    faults->push_back(absl::StrCat(path, " holds no private key, or one under a password"));
  } else if (certificate != nullptr && X509_check_private_key(certificate, key.get()) != 1) {
    faults->push_back(absl::StrCat(path, " is not the key of the certificate beside it"));
  }
}

}  // namespace

absl::StatusOr<CertificateFacts> ReadCertificate(const std::string& pem) {
  const std::vector<Certificate> all = ReadAll(pem);
  if (all.empty()) {
    return absl::InvalidArgumentError("there is no certificate in it");
  }
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int size = 0;
  if (X509_digest(all[0].get(), EVP_sha256(), digest.data(), &size) != 1) {
    return absl::InvalidArgumentError("the certificate cannot be digested");
  }
  CertificateFacts facts;
  facts.fingerprint =
      absl::BytesToHexString(absl::string_view(reinterpret_cast<const char*>(digest.data()), size));
  facts.begin = TimeOf(X509_get0_notBefore(all[0].get()));
  facts.end = TimeOf(X509_get0_notAfter(all[0].get()));
  return facts;
}

TlsFiles FilesOf(const std::string& folder) {
  return {.certificate = folder + "/server.pem",
          .key = folder + "/server.key",
          .authority = folder + "/ca.pem",
          .members = folder + "/members"};
}

absl::Status CheckTlsFiles(const TlsFiles& files, absl::Time now) {
  std::vector<std::string> faults;
  const auto certificate = ReadFile(files.certificate, &faults);
  const auto key = ReadFile(files.key, &faults);
  const auto authority = ReadFile(files.authority, &faults);
  const std::vector<Certificate> chain = ReadAll(certificate.value_or(""));
  const std::vector<Certificate> authorities = ReadAll(authority.value_or(""));
  if (certificate.has_value() && chain.empty()) {
    faults.push_back(absl::StrCat(files.certificate, " holds no certificate"));
  }
  if (authority.has_value() && authorities.empty()) {
    faults.push_back(absl::StrCat(files.authority, " holds no certificate"));
  }
  if (key.has_value()) {
    CheckKey(files.key, *key, chain.empty() ? nullptr : chain[0].get(), &faults);
  }
  if (!chain.empty() && !authorities.empty()) {
    if (const std::string fault = Verify(chain, authorities, now); !fault.empty()) {
      faults.push_back(absl::StrCat(files.certificate, " is no good for a server: ", fault));
    }
  }
  if (faults.empty()) {
    return absl::OkStatus();
  }
  return absl::FailedPreconditionError(absl::StrCat(
      absl::StrJoin(faults, "\n"), "\ndeploy/lab-ca makes these files; see deploy/RUNBOOK.md"));
}

}  // namespace gaitshelf::service
