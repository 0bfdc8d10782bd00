// Where a command reads and writes, and how it learns that the user pressed Ctrl-C.
#ifndef GAITSHELF_CLIENTS_CLI_CONSOLE_H_
#define GAITSHELF_CLIENTS_CLI_CONSOLE_H_

#include <iosfwd>

#include "clients/cli/interrupts.h"

namespace gaitshelf::client {

// Results go to `out`; progress, cautions and errors go to `err`, so that `out` stays clean for
// scripts.
struct Console {
  std::istream& in;
  std::ostream& out;
  std::ostream& err;
  bool out_is_terminal = false;
  bool err_is_terminal = false;
  Interrupts* interrupts = nullptr;
};

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_CONSOLE_H_
