// Writes messages as JSON for scripts.
#ifndef GAITSHELF_CLIENTS_CLI_JSON_H_
#define GAITSHELF_CLIENTS_CLI_JSON_H_

#include <string>

#include <google/protobuf/message.h>

namespace gaitshelf::client {

// Returns an indented JSON object and a newline: field names as in the .proto files, every plain
// field present. (int64 values are strings, as protobuf's JSON form has them.)
std::string ToJson(const google::protobuf::Message& message);

// Returns the same on one line.
std::string ToJsonLine(const google::protobuf::Message& message);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_JSON_H_
