// Hands a verb over to the Python package `gaitshelf`, which has the pictures and the sweeps.
#ifndef GAITSHELF_CLIENTS_CLI_RUN_PYTHON_H_
#define GAITSHELF_CLIENTS_CLI_RUN_PYTHON_H_

#include <string>
#include <vector>

#include "absl/status/status.h"

namespace gaitshelf::client {

// A program to run in place of this one.
struct PythonCall {
  std::vector<std::string> words;
  std::vector<std::string> environment;
};

// Returns the call of the package's command with these words.
//   environment      of this process, "NAME=value" each
//   program_folder   of this program; a package that was built beside it, in ../python, goes before
//                    any other
PythonCall MakePythonCall(const std::vector<std::string>& words,
                          const std::vector<std::string>& environment,
                          const std::string& program_folder);

// Ends this program and runs the package's command in its place, with the same input and output;
// the exit codes are the same as ours. Returns only when that is not possible. A package that
// cannot be loaded says so and ends with 1.
//
// Errors:
//   kFailedPrecondition   Debian's Python is not there
absl::Status RunPython(const std::vector<std::string>& words);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_RUN_PYTHON_H_
