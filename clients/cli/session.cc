#include "clients/cli/session.h"

#include <ostream>

#include "clients/cli/server_error.h"

namespace gaitshelf::client {

int Fail(const Session& session, const grpc::Status& status) {
  const Failure failure = FromServer(status, session.server.address);
  session.console.err << Describe(failure, session.is_json) << std::flush;
  return failure.exit_code;
}

int Fail(const Session& session, const absl::Status& status) {
  const Failure failure = FromStatus(status);
  session.console.err << Describe(failure, session.is_json) << std::flush;
  return failure.exit_code;
}

}  // namespace gaitshelf::client
