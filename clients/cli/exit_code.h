// Exit codes of the command. Scripts rely on them: they are listed in README.md and in the help.
#ifndef GAITSHELF_CLIENTS_CLI_EXIT_CODE_H_
#define GAITSHELF_CLIENTS_CLI_EXIT_CODE_H_

namespace gaitshelf::client {

inline constexpr int kExitOk = 0;
// The server cannot be reached, has a fault, or refuses for a reason of its own.
inline constexpr int kExitError = 1;
// The command line, a description or an order breaks a rule.
inline constexpr int kExitUsage = 2;
// A job ended without a good gait: infeasible, failed its audit, or cancelled.
inline constexpr int kExitFailedJob = 3;
// The library has no such robot, surface, gait or job.
inline constexpr int kExitNotFound = 4;
// Stopped by Ctrl-C or SIGTERM.
inline constexpr int kExitInterrupted = 130;

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_EXIT_CODE_H_
