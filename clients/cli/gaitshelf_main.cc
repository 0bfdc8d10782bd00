// Entry of the program `gaitshelf`.
#include <exception>
#include <iostream>
#include <string>
#include <vector>

#include <unistd.h>

#include "clients/cli/command.h"
#include "clients/cli/exit_code.h"
#include "clients/cli/interrupts.h"

int main(int argc, char** argv) {
  gaitshelf::client::Interrupts interrupts;
  gaitshelf::client::Console console{std::cin,
                                     std::cout,
                                     std::cerr,
                                     isatty(STDOUT_FILENO) != 0,
                                     isatty(STDERR_FILENO) != 0,
                                     &interrupts};
  try {
    const int code =
        gaitshelf::client::RunCommand(std::vector<std::string>(argv + 1, argv + argc), console);
    std::cout.flush();
    return code;
  } catch (const std::exception& error) {
    std::cerr << "gaitshelf: internal fault: " << error.what() << std::endl;
    return gaitshelf::client::kExitError;
  }
}
