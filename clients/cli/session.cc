#include "clients/cli/session.h"

#include <ostream>

#include "clients/cli/server_error.h"

namespace gaitshelf::client {

int Fail(const Session& session, const Failure& failure) {
  session.console.err << Describe(failure, session.is_json) << std::flush;
  return failure.exit_code;
}

int Fail(const Session& session, const grpc::Status& status) {
  return Fail(session, FromServer(status, session.server.address));
}

int Fail(const Session& session, const absl::Status& status) {
  return Fail(session, FromStatus(status));
}

}  // namespace gaitshelf::client
