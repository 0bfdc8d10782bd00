// The command `gaitshelf`: finds the verb, reads its flags, runs it.
#ifndef GAITSHELF_CLIENTS_CLI_COMMAND_H_
#define GAITSHELF_CLIENTS_CLI_COMMAND_H_

#include <string>
#include <vector>

#include "clients/cli/console.h"

namespace gaitshelf::client {

// Runs one command line without the program's name. Returns the exit code (exit_code.h).
int RunCommand(const std::vector<std::string>& words, Console& console);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_COMMAND_H_
