// The command's help, from the table of verbs. Every line fits a terminal of 80 columns.
#ifndef GAITSHELF_CLIENTS_CLI_HELP_TEXT_H_
#define GAITSHELF_CLIENTS_CLI_HELP_TEXT_H_

#include <string>
#include <vector>

#include "clients/cli/arguments.h"

namespace gaitshelf::client {

// One line: the verb with its words and required flags.
std::string Usage(const VerbSpec& spec);

// Usage, what the verb does, flags, examples.
std::string VerbHelp(const VerbSpec& spec);

// All verbs with a line each, what holds for all of them, and the exit codes.
std::string GeneralHelp(const std::vector<VerbSpec>& specs);

// Breaks a text at blanks and newlines into lines of at most 80 columns that follow `indent` blanks
// each; the first line is not indented. A longer word stands alone.
std::string Wrap(const std::string& text, int indent);

// Breaks a command line before flags, with a backslash at the end of each line but the last.
std::string WrapCommand(const std::string& line, int indent);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_HELP_TEXT_H_
