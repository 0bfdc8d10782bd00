// Opens the way to a server that may be another machine's.
#ifndef GAITSHELF_CLIENTS_CLI_DIAL_H_
#define GAITSHELF_CLIENTS_CLI_DIAL_H_

#include <string>

#include "absl/status/statusor.h"
#include "clients/cli/connection.h"

namespace gaitshelf::client {

// Opens the way to a server of this machine, in plain. Does not wait for it: the first call does.
Connection Connect(const std::string& address);

// As Connect, showing who calls; see channel.h for the folder, which may be empty, and for errors.
absl::StatusOr<Connection> Dial(const std::string& address, const std::string& identity_folder);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_DIAL_H_
