// Splits a command line into verb, words and flags against a table of verbs. Knows nothing of what
// the verbs do.
#ifndef GAITSHELF_CLIENTS_CLI_ARGUMENTS_H_
#define GAITSHELF_CLIENTS_CLI_ARGUMENTS_H_

#include <cstddef>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"

namespace gaitshelf::client {

struct FlagSpec {
  std::string name;
  // What stands after the flag in the help, such as "LENGTH"; empty for a switch.
  // Small letters, such as "header|csv", are choices.
  std::string value_word;
  std::string help;
  bool is_required = false;
  // One letter that stands for the flag after a single dash; empty for none.
  std::string letter = {};
};

struct VerbSpec {
  // One or two words, such as "robot put".
  std::string path;
  // Words that follow, such as "FILE"; each is required. A last one such as "FILE..." may be many.
  // Small letters, such as "header|csv", are choices.
  std::vector<std::string> words;
  std::string summary;
  // Further lines of help; may be empty.
  std::string detail;
  // Command lines that work, one a line.
  std::string examples;
  std::vector<FlagSpec> flags;
  // What a further word stands for after a choice: {"map", "ROBOT"}.
  std::map<std::string, std::string> name_after = {};
};

class Arguments {
 public:
  // Value of a flag as written; absent when it was not given.
  std::optional<std::string> Value(const std::string& flag) const;
  // True when a switch was given.
  bool Has(const std::string& flag) const;
  const std::vector<std::string>& words() const { return words_; }
  // A word, or "" when it is missing.
  std::string Word(std::size_t index) const {
    return index < words_.size() ? words_[index] : std::string();
  }

 private:
  friend absl::StatusOr<Arguments> ParseArguments(const VerbSpec& verb,
                                                  const std::vector<std::string>& words,
                                                  absl::Status (*check)(const Arguments&));
  std::map<std::string, std::string> flags_;
  std::vector<std::string> words_;
};

// The choices of a word or a flag's value: of "header|csv" both, of "bash" itself. Empty when it
// names no choices, as "FILE".
std::vector<std::string> Choices(const std::string& value_word);

// Flags that every verb takes: --server, --identity, --json, --help.
const std::vector<FlagSpec>& GlobalFlags();

// Reads what follows the verb. A flag's value is the next word or follows "=". What was read is
// given to `check` for further faults, also when there are some already; it may be null.
//
// Errors:
//   kInvalidArgument   unknown or doubled flags, missing values or words, words too many, values
//                      that are no choice, what check says; one line for each fault, all at once
absl::StatusOr<Arguments> ParseArguments(const VerbSpec& verb,
                                         const std::vector<std::string>& words,
                                         absl::Status (*check)(const Arguments&) = nullptr);

// Returns the candidate that is within two edits of the word, or "" when none is.
std::string NearestWord(const std::string& word, const std::vector<std::string>& candidates);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_ARGUMENTS_H_
