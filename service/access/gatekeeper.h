// Stands before every call that comes over the network, also those of gRPC's own services, and
// before any message of it is read: who is it, and may he?
#ifndef GAITSHELF_SERVICE_ACCESS_GATEKEEPER_H_
#define GAITSHELF_SERVICE_ACCESS_GATEKEEPER_H_

#include <map>
#include <mutex>
#include <string>

#include <grpcpp/security/auth_metadata_processor.h>

#include "absl/strings/string_view.h"
#include "absl/time/time.h"
#include "service/access/call_count.h"
#include "service/access/certificate.h"
#include "service/access/member_list.h"
#include "service/log/limited_log.h"

namespace gaitshelf::service {

class Gatekeeper final : public grpc::AuthMetadataProcessor {
 public:
  // List and count outlive this. A member may have `call_limit` calls under way; a few more may
  // slip in that begin at once.
  Gatekeeper(MemberList* members, const CallCount* calls, int call_limit, EventLog log)
      : members_(members), calls_(calls), call_limit_(call_limit), log_(std::move(log), 20) {}

  bool IsBlocking() const override { return false; }
  grpc::Status Process(const InputMetadata& metadata,
                       grpc::AuthContext* peer,
                       OutputMetadata* consumed,
                       OutputMetadata* response) override;

  // Judges one call, named "/package.Service/Call", of somebody whom the handshake has let in;
  // names refusals in the log.
  //
  // Errors:
  //   UNAUTHENTICATED     the certificate names no member, or has ended since the handshake
  //   PERMISSION_DENIED   the member is not on the list, the list names other certificates of his,
  //   or
  //                       his role does not do
  //   UNIMPLEMENTED       there is no such call
  //   RESOURCE_EXHAUSTED  the member has too many calls under way
  grpc::Status Judge(absl::string_view method, const grpc::AuthContext& peer, absl::Time now);

 private:
  grpc::Status Decide(absl::string_view method,
                      const std::string& name,
                      const grpc::AuthContext& peer,
                      absl::Time now);
  // Facts of the certificate that the peer has shown; those of the last ones are kept.
  absl::StatusOr<CertificateFacts> FactsOf(const grpc::AuthContext& peer);

  MemberList* members_;
  const CallCount* calls_;
  const int call_limit_;
  LimitedLog log_;
  std::mutex mutex_;
  std::map<std::string, CertificateFacts> facts_;  // by the certificate's text
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_ACCESS_GATEKEEPER_H_
