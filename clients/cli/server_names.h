// What a server has, by name, for the completion of command lines.
#ifndef GAITSHELF_CLIENTS_CLI_SERVER_NAMES_H_
#define GAITSHELF_CLIENTS_CLI_SERVER_NAMES_H_

#include <string>
#include <vector>

#include "clients/cli/completion.h"
#include "clients/cli/connection.h"

namespace gaitshelf::client {

// Returns the names of a kind; of gaits, jobs and trials the newest 1000, of calibrations 100.
// Empty when the server does not answer within a second: a key that completes must not hang.
std::vector<std::string> ServerNames(const Connection& server, NameKind kind);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_SERVER_NAMES_H_
