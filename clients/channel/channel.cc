#include "clients/channel/channel.h"

#include <cerrno>
#include <cstddef>
#include <cstdlib>
#include <ctime>
#include <fstream>
#include <iterator>
#include <system_error>

#include <grpcpp/create_channel.h>
#include <grpcpp/security/credentials.h>
#include <openssl/bio.h>
#include <openssl/pem.h>
#include <openssl/x509.h>

#include "absl/status/status.h"
#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/time/clock.h"
#include "absl/time/time.h"

namespace gaitshelf::client {
namespace {

bool IsSocket(const std::string& address) {
  return absl::StartsWith(address, "unix:") || absl::StartsWith(address, "unix-abstract:");
}

bool IsThisMachine(const std::string& address) {
  const std::string host = address.substr(0, address.rfind(':'));
  return IsSocket(address) || host == "localhost" || absl::StartsWith(host, "127.") ||
         host == "[::1]";
}

// Reads a file in PEM that must hold something of a kind, such as "CERTIFICATE-----".
absl::StatusOr<std::string> ReadPem(const std::string& folder,
                                    const std::string& name,
                                    const std::string& kind) {
  const std::string path = absl::StrCat(folder, "/", name);
  std::ifstream file(path, std::ios::binary);
  if (!file) {
    return absl::FailedPreconditionError(
        absl::StrCat("identity: cannot read ", path, ": ", std::generic_category().message(errno)));
  }
  std::string text{std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
  if (!absl::StrContains(text, absl::StrCat(kind, "-----"))) {
    return absl::FailedPreconditionError(
        absl::StrCat("identity: ", path, " holds no ", kind, "; take the folder from lab-ca anew"));
  }
  return text;
}

// A server lets nobody in whose certificate has ended, and at the handshake it cannot say so.
absl::Status CheckHolds(const std::string& folder, const std::string& pem) {
  BIO* const reader = BIO_new_mem_buf(pem.data(), static_cast<int>(pem.size()));
  X509* const certificate = PEM_read_bio_X509(reader, nullptr, nullptr, nullptr);
  std::tm end{};
  const bool is_read =
      certificate != nullptr && ASN1_TIME_to_tm(X509_get0_notAfter(certificate), &end) == 1;
  X509_free(certificate);
  BIO_free(reader);
  if (!is_read) {
    return absl::FailedPreconditionError(
        absl::StrCat("identity: ",
                     folder,
                     "/member.pem holds no certificate; take the folder from lab-ca anew"));
  }
  const absl::Time end_time = absl::FromTM(end, absl::UTCTimeZone());
  if (absl::Now() > end_time) {
    return absl::FailedPreconditionError(
        absl::StrCat("identity: the certificate ",
                     folder,
                     "/member.pem held until ",
                     absl::FormatTime("%Y-%m-%d %H:%M UTC", end_time, absl::UTCTimeZone()),
                     "; have a new one issued"));
  }
  return absl::OkStatus();
}

}  // namespace

std::string IdentityFolder(const std::optional<std::string>& flag) {
  if (flag.has_value()) {
    return *flag;
  }
  // Clients read their environment before they start a thread.
  const char* folder = std::getenv("GAITSHELF_IDENTITY");  // NOLINT(concurrency-mt-unsafe)
  return folder == nullptr ? "" : folder;
}

absl::StatusOr<std::shared_ptr<grpc::Channel>> OpenChannel(
    const std::string& address,
    const std::string& identity_folder,
    const grpc::ChannelArguments& arguments) {
  if (IsSocket(address) || (identity_folder.empty() && IsThisMachine(address))) {
    return grpc::CreateCustomChannel(address, grpc::InsecureChannelCredentials(), arguments);
  }
  if (identity_folder.empty()) {
    return absl::InvalidArgumentError(
        absl::StrCat("the server ",
                     address,
                     " is another machine's, and there is no identity; give --identity FOLDER or "
                     "GAITSHELF_IDENTITY, the folder that deploy/lab-ca made for you"));
  }
  const auto authority = ReadPem(identity_folder, "ca.pem", "CERTIFICATE");
  const auto certificate = ReadPem(identity_folder, "member.pem", "CERTIFICATE");
  const auto key = ReadPem(identity_folder, "member.key", "PRIVATE KEY");
  for (const auto* file : {&authority, &certificate, &key}) {
    if (!file->ok()) {
      return file->status();
    }
  }
  if (const absl::Status status = CheckHolds(identity_folder, *certificate); !status.ok()) {
    return status;
  }
  grpc::SslCredentialsOptions options;
  options.pem_root_certs = *authority;
  options.pem_cert_chain = *certificate;
  options.pem_private_key = *key;
  return grpc::CreateCustomChannel(address, grpc::SslCredentials(options), arguments);
}

}  // namespace gaitshelf::client
