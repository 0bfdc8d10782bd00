// The door to the network: mutual TLS with the files of a folder, and a gatekeeper behind it.
#ifndef GAITSHELF_SERVICE_ACCESS_DOOR_H_
#define GAITSHELF_SERVICE_ACCESS_DOOR_H_

#include <memory>
#include <string>

#include <grpcpp/security/server_credentials.h>

#include "absl/status/statusor.h"
#include "service/access/call_count.h"
#include "service/access/member_list.h"
#include "service/log/event.h"

namespace gaitshelf::service {

class Door {
 public:
  // Opens a folder with server.pem, server.key, ca.pem and members (certificate.h, member_list.h).
  // All of them may be replaced while the server runs; each change holds for the next handshake or
  // call, within two seconds.
  //
  // Errors:
  //   kFailedPrecondition   files are missing or do no good; every fault, a line each
  static absl::StatusOr<std::unique_ptr<Door>> Open(const std::string& folder,
                                                    int calls_per_member,
                                                    EventLog log);

  // What the server must be built with, beside the credentials, so that calls are counted.
  CallCount* calls() { return &calls_; }

  // What a port takes. This must outlive the server.
  const std::shared_ptr<grpc::ServerCredentials>& credentials() const { return credentials_; }

 private:
  Door() = default;

  std::unique_ptr<MemberList> members_;
  CallCount calls_;
  std::shared_ptr<grpc::ServerCredentials> credentials_;
};

// Has gRPC's own complaints, such as of handshakes that it refused, go to the log, at most so many
// a second. For the whole process; the log must live as long.
void KeepGrpcLog(EventLog log);

// The event of a line of gRPC's; refused handshakes are put into words.
LogEvent GrpcEvent(const std::string& message, LogLevel level);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_ACCESS_DOOR_H_
