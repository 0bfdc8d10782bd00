#include "clients/cli/server_error.h"

#include <array>
#include <cstddef>

#include <google/protobuf/wrappers.pb.h>
#include <google/rpc/error_details.pb.h>
#include <google/rpc/status.pb.h>

#include "absl/strings/ascii.h"
#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "absl/strings/str_split.h"
#include "clients/cli/exit_code.h"
#include "clients/cli/json.h"

namespace gaitshelf::client {
namespace {

std::string CodeName(grpc::StatusCode code) {
  // absl and gRPC share their code numbers.
  return absl::StatusCodeToString(static_cast<absl::StatusCode>(code));
}

int ExitCodeOf(absl::StatusCode code) {
  switch (code) {
    case absl::StatusCode::kOk:
      return kExitOk;
    case absl::StatusCode::kInvalidArgument:
      return kExitUsage;
    case absl::StatusCode::kNotFound:
      return kExitNotFound;
    case absl::StatusCode::kCancelled:
      return kExitInterrupted;
    default:
      return kExitError;
  }
}

// A JSON string. (A google.protobuf.Struct would do it all, but its map, inlined into our code,
// does not work with a libprotobuf that was built without the thread sanitizer.)
std::string Quoted(const std::string& text) {
  google::protobuf::StringValue value;
  value.set_value(text);
  return std::string(absl::StripAsciiWhitespace(ToJsonLine(value)));
}

}  // namespace

Failure FromServer(const grpc::Status& status, const std::string& address) {
  Failure failure;
  failure.exit_code = ExitCodeOf(static_cast<absl::StatusCode>(status.error_code()));
  failure.code = CodeName(status.error_code());
  failure.message = status.error_message();
  if (status.error_code() == grpc::StatusCode::UNAVAILABLE) {
    failure.message = absl::StrCat("no server answers at ",
                                   address,
                                   " (",
                                   status.error_message(),
                                   "); start gaitshelfd, or name another address with --server or "
                                   "GAITSHELF_SERVER",
                                   absl::StartsWith(address, "unix:")
                                       ? ""
                                       : "; a server that takes TLS hangs up on clients without a "
                                         "certificate of its laboratory, and its log says why");
  }
  // gRPC says nothing of a call that there is not; what a server says itself stands.
  if (status.error_code() == grpc::StatusCode::UNIMPLEMENTED && failure.message.empty()) {
    failure.message =
        "the server does not know this call: it is older than this command; update it";
  }
  google::rpc::Status rich;
  if (!rich.ParseFromString(status.error_details())) {
    return failure;
  }
  for (const google::protobuf::Any& detail : rich.details()) {
    google::rpc::BadRequest bad_request;
    if (!detail.UnpackTo(&bad_request)) {
      continue;
    }
    for (const auto& violation : bad_request.field_violations()) {
      failure.violations.emplace_back(violation.field(), violation.description());
    }
  }
  // The message repeats every fault for clients that cannot read details: keep its first line only.
  if (!failure.violations.empty()) {
    failure.message = failure.violations.size() == 1
                          ? "the request has a fault"
                          : absl::StrCat("the request has ", failure.violations.size(), " faults");
  }
  return failure;
}

Failure FromStatus(const absl::Status& status) {
  Failure failure;
  failure.exit_code = ExitCodeOf(status.code());
  failure.code = absl::StatusCodeToString(status.code());
  const std::vector<std::string> lines = absl::StrSplit(std::string(status.message()), '\n');
  failure.message = lines[0];
  if (lines.size() > 1) {
    failure.message = absl::StrCat(lines.size(), " faults");
    for (const std::string& line : lines) {
      failure.violations.emplace_back("", line);
    }
  }
  return failure;
}

std::string FaultText(const v1::FieldViolation& violation) {
  std::string text =
      absl::StrCat("is ", violation.value(), "; ", violation.problem(), "; ", violation.mend());
  if (violation.line() > 0) {
    absl::StrAppend(&text, " (line ", violation.line(), ", column ", violation.column(), ")");
  }
  return text;
}

Failure FromFaults(const std::string& path,
                   const google::protobuf::RepeatedPtrField<v1::FieldViolation>& violations) {
  Failure failure;
  failure.exit_code = kExitUsage;
  failure.code = absl::StatusCodeToString(absl::StatusCode::kInvalidArgument);
  failure.message =
      absl::StrCat(path, ": ", violations.size(), " fault", violations.size() == 1 ? "" : "s");
  for (const v1::FieldViolation& violation : violations) {
    failure.violations.emplace_back(violation.field(), FaultText(violation));
  }
  return failure;
}

std::string Describe(const Failure& failure, bool as_json) {
  if (!as_json) {
    std::string text = absl::StrCat("gaitshelf: ", failure.message, "\n");
    for (const auto& [field, description] : failure.violations) {
      absl::StrAppend(&text, "  ", field, field.empty() ? "" : ": ", description, "\n");
    }
    return text;
  }
  std::vector<std::string> violations;
  for (const auto& [field, description] : failure.violations) {
    violations.push_back(absl::StrCat(
        "    {\"field\": ", Quoted(field), ", \"description\": ", Quoted(description), "}"));
  }
  return absl::StrCat("{\n \"error\": {\n  \"code\": ",
                      Quoted(failure.code),
                      ",\n  \"message\": ",
                      Quoted(failure.message),
                      ",\n  \"violations\": [",
                      violations.empty() ? "" : "\n",
                      absl::StrJoin(violations, ",\n"),
                      "]\n }\n}\n");
}

}  // namespace gaitshelf::client
