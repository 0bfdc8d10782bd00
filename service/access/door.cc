#include "service/access/door.h"

#include <utility>

#include <grpc/grpc.h>
#include <grpc/support/log.h>
#include <grpcpp/security/tls_certificate_provider.h>
#include <grpcpp/security/tls_credentials_options.h>

#include "absl/strings/match.h"
#include "absl/strings/string_view.h"
#include "absl/time/clock.h"
#include "service/access/certificate.h"
#include "service/access/gatekeeper.h"
#include "service/log/limited_log.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

constexpr unsigned int kRereadPeriod_s = 1;
constexpr int kGrpcLinesPerSecond = 10;

LimitedLog* grpc_log = nullptr;  // set once, before gRPC complains, and kept

}  // namespace

absl::StatusOr<std::unique_ptr<Door>> Door::Open(const std::string& folder,
                                                 int calls_per_member,
                                                 EventLog log) {
  const TlsFiles files = FilesOf(folder);
  GAITSHELF_RETURN_IF_ERROR(CheckTlsFiles(files, absl::Now()));
  std::unique_ptr<Door> door(new Door());
  GAITSHELF_ASSIGN_OR_RETURN(door->members_, MemberList::Open(files.members, log));
  namespace tls = grpc::experimental;
  tls::TlsServerCredentialsOptions options(std::make_shared<tls::FileWatcherCertificateProvider>(
      files.key, files.certificate, files.authority, kRereadPeriod_s));
  options.watch_root_certs();
  options.watch_identity_key_cert_pairs();
  options.set_cert_request_type(GRPC_SSL_REQUEST_AND_REQUIRE_CLIENT_CERTIFICATE_AND_VERIFY);
  door->credentials_ = tls::TlsServerCredentials(options);
  door->credentials_->SetAuthMetadataProcessor(std::make_shared<Gatekeeper>(
      door->members_.get(), &door->calls_, calls_per_member, std::move(log)));
  return door;
}

void KeepGrpcLog(EventLog log) {
  grpc_init();  // a log function that is set before would be lost
  grpc_log = new LimitedLog(std::move(log), kGrpcLinesPerSecond);
  gpr_set_log_function([](gpr_log_func_args* line) {
    grpc_log->Write(
        GrpcEvent(line->message,
                  line->severity == GPR_LOG_SEVERITY_ERROR ? LogLevel::kWarning : LogLevel::kInfo));
  });
}

LogEvent GrpcEvent(const std::string& message, LogLevel level) {
  if (!absl::StartsWith(message, "Handshake failed")) {
    return {.level = level, .what = "gRPC complains", .fields = {{"text", message}}};
  }
  absl::string_view reason = "it does not speak TLS as we do";
  if (absl::StrContains(message, "peer did not return a certificate")) {
    reason = "it has shown no certificate";
  } else if (absl::StrContains(message, "certificate verify failed")) {
    reason =
        "the certificate that it has shown is of another authority, has ended or does not hold yet";
  } else if (absl::StrContains(message, "alert")) {
    reason = "it does not accept this server's certificate";
  }
  return {.level = LogLevel::kWarning,
          .what = "client is refused at the handshake",
          .fields = {{"reason", reason}, {"text", message}}};
}

}  // namespace gaitshelf::service
