// The border between absl::Status and grpc::Status: the one place where errors become what a
// client sees. Details ride as payloads of the absl::Status and leave as google.rpc.Status.
#ifndef GAITSHELF_SERVICE_API_STATUS_H_
#define GAITSHELF_SERVICE_API_STATUS_H_

#include <vector>

#include <grpcpp/support/status.h>

#include "gaitshelf/v1/check.pb.h"

#include "absl/status/status.h"
#include "absl/strings/string_view.h"

namespace gaitshelf::service {

// kInvalidArgument with every fault as google.rpc.BadRequest. The faults must not be empty.
//
// A status travels in headers, for which clients allow 8 kB: of very many faults the first are
// carried and the number of the others is named.
absl::Status InvalidRequest(const std::vector<v1::FieldViolation>& violations);

// InvalidRequest for one missing field.
absl::Status MissingField(absl::string_view field, absl::string_view mend);

// Adds a google.rpc.ErrorInfo whose reason, in upper snake case, lets programs tell errors apart.
absl::Status WithReason(absl::Status status, absl::string_view reason);

// Same code, same message, payloads as details. Lock-step of both enums' numbers is tested.
grpc::Status ToGrpc(const absl::Status& status);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_STATUS_H_
