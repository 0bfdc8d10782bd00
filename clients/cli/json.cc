#include "clients/cli/json.h"

#include <google/protobuf/util/json_util.h>

namespace gaitshelf::client {
namespace {

std::string Write(const google::protobuf::Message& message, bool is_indented) {
  google::protobuf::util::JsonPrintOptions options;
  options.add_whitespace = is_indented;
  options.always_print_primitive_fields = true;
  options.preserve_proto_field_names = true;
  std::string text;
  // Fails only for an Any of unknown type or a malformed well-known type; none of ours has one.
  const auto status = google::protobuf::util::MessageToJsonString(message, &text, options);
  if (!status.ok()) {
    return "{}\n";
  }
  if (text.empty() || text.back() != '\n') {
    text += '\n';
  }
  return text;
}

}  // namespace

std::string ToJson(const google::protobuf::Message& message) { return Write(message, true); }

std::string ToJsonLine(const google::protobuf::Message& message) { return Write(message, false); }

}  // namespace gaitshelf::client
