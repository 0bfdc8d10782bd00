// Turns errors into text for a person or JSON for a script, and into exit codes.
#ifndef GAITSHELF_CLIENTS_CLI_SERVER_ERROR_H_
#define GAITSHELF_CLIENTS_CLI_SERVER_ERROR_H_

#include <string>
#include <utility>
#include <vector>

#include <google/protobuf/repeated_ptr_field.h>
#include <grpcpp/support/status.h>

#include "gaitshelf/v1/check.pb.h"

#include "absl/status/status.h"

namespace gaitshelf::client {

// One failed command, ready to be shown.
struct Failure {
  int exit_code = 0;
  // Code as gRPC names it, such as NOT_FOUND.
  std::string code;
  std::string message;
  // Field path and description of each fault.
  std::vector<std::pair<std::string, std::string>> violations;
};

// Unpacks the faults that ride in google.rpc.BadRequest. `address` is named when nobody answers.
Failure FromServer(const grpc::Status& status, const std::string& address);

// A failure of the command's own, before or after the server was asked. A message of several lines
// becomes one fault a line.
Failure FromStatus(const absl::Status& status);

// What a person reads of one fault: what the field is, the rule and the mend, and the place in the
// text that was read, if one was.
std::string FaultText(const v1::FieldViolation& violation);

// The faults of a file, at least one.
Failure FromFaults(const std::string& path,
                   const google::protobuf::RepeatedPtrField<v1::FieldViolation>& violations);

// Returns lines that end in a newline: "gaitshelf: message", then "  field: description" for each
// fault; or one JSON object {"error": {"code", "message", "violations"}}.
std::string Describe(const Failure& failure, bool as_json);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_SERVER_ERROR_H_
