#include "clients/cli/help_text.h"

#include <cstddef>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "absl/strings/str_split.h"

namespace gaitshelf::client {
namespace {

constexpr std::size_t kColumns = 80;
// Where the explanations of flags begin.
constexpr int kFlagIndent = 25;
// Where the summaries of verbs begin.
constexpr int kVerbIndent = 22;

// Lays parts out on lines: a part that does not fit begins the next one.
std::string LayOut(const std::vector<std::string>& parts, int indent, const std::string& ending) {
  const auto blanks = static_cast<std::size_t>(indent);
  std::string text;
  std::size_t column = blanks;
  for (const std::string& part : parts) {
    if (!text.empty() && column + 1 + part.size() + ending.size() > kColumns) {
      absl::StrAppend(&text, ending, "\n", std::string(blanks, ' '));
      column = blanks;
    } else if (!text.empty()) {
      absl::StrAppend(&text, " ");
      ++column;
    }
    absl::StrAppend(&text, part);
    column += part.size();
  }
  return text;
}

// What is explained stands on the left; where that is long, on a line of its own.
void AppendEntry(const std::string& left,
                 const std::string& explanation,
                 int indent,
                 std::string& text) {
  const auto blanks = static_cast<std::size_t>(indent);
  const std::string gap = left.size() + 3 > blanks ? absl::StrCat("\n", std::string(blanks, ' '))
                                                   : std::string(blanks - left.size() - 2, ' ');
  absl::StrAppend(&text, "  ", left, gap, Wrap(explanation, indent), "\n");
}

void AppendFlags(const std::vector<FlagSpec>& flags, std::string& text) {
  for (const FlagSpec& flag : flags) {
    AppendEntry(absl::StrCat("--", flag.name, flag.value_word.empty() ? "" : " ", flag.value_word),
                flag.help,
                kFlagIndent,
                text);
  }
}

// Choices that a line of usage has no room for.
bool IsLongChoice(const std::string& word) {
  constexpr std::size_t kMostColumns = 40;
  return word.size() > kMostColumns && absl::StrContains(word, '|');
}

}  // namespace

std::string Wrap(const std::string& text, int indent) {
  return LayOut(absl::StrSplit(text, absl::ByAnyChar(" \n"), absl::SkipEmpty()), indent, "");
}

std::string WrapCommand(const std::string& line, int indent) {
  std::vector<std::string> parts;
  for (const absl::string_view word : absl::StrSplit(line, ' ')) {
    // A flag keeps what follows it: its value.
    if (parts.empty() || absl::StartsWith(word, "-")) {
      parts.emplace_back(word);
    } else {
      absl::StrAppend(&parts.back(), " ", word);
    }
  }
  return LayOut(parts, indent, " \\");
}

std::string Usage(const VerbSpec& spec) {
  std::string line = absl::StrCat("gaitshelf ", spec.path);
  for (const std::string& word : spec.words) {
    absl::StrAppend(&line, " ", IsLongChoice(word) ? "KIND" : word);
  }
  for (const FlagSpec& flag : spec.flags) {
    if (flag.is_required) {
      absl::StrAppend(&line, " --", flag.name, " ", flag.value_word);
    }
  }
  return line;
}

std::string VerbHelp(const VerbSpec& spec) {
  std::string text = absl::StrCat(WrapCommand(Usage(spec), 4), "\n  ", spec.summary, "\n");
  if (!spec.detail.empty()) {
    absl::StrAppend(&text, "\n", Wrap(spec.detail, 0), "\n");
  }
  for (const std::string& word : spec.words) {
    if (IsLongChoice(word)) {
      const std::string kinds = absl::StrJoin(absl::StrSplit(word, '|'), ", ");
      absl::StrAppend(&text, "\n", Wrap(absl::StrCat("KIND: ", kinds), 0), "\n");
    }
  }
  absl::StrAppend(&text, "\nflags\n");
  AppendFlags(spec.flags, text);
  AppendFlags(GlobalFlags(), text);
  absl::StrAppend(&text, "\nexample", absl::StrContains(spec.examples, '\n') ? "s" : "", "\n");
  for (const absl::string_view line : absl::StrSplit(spec.examples, '\n')) {
    // Further lines of a long command stand four blanks further in.
    absl::StrAppend(&text, "  ", WrapCommand(std::string(line), 6), "\n");
  }
  return text;
}

std::string GeneralHelp(const std::vector<VerbSpec>& specs) {
  std::string text =
      "gaitshelf: plan, keep, serve and stream gaits of small legged robots\n\n"
      "usage: gaitshelf VERB ... (gaitshelf VERB --help tells more)\n\n";
  for (const VerbSpec& spec : specs) {
    std::string left = spec.path;
    for (const std::string& word : spec.words) {
      absl::StrAppend(&left, " ", absl::StrContains(word, '|') ? "KIND" : word);
    }
    AppendEntry(left, spec.summary, kVerbIndent, text);
  }
  absl::StrAppend(&text, "\nflags of every verb\n");
  AppendFlags(GlobalFlags(), text);
  absl::StrAppend(&text,
                  "\nQuantities carry their unit: 12Hz 9mm 0.3deg 2.5ms 100V.\n"
                  "The server's address is --server, else GAITSHELF_SERVER, else the socket\n"
                  "gaitshelf.sock in XDG_RUNTIME_DIR or /tmp.\n"
                  "Exit codes: 0 done; 1 error; 2 the command line, a description or an order\n"
                  "breaks a rule; 3 the job ended without a good gait; 4 not found;\n"
                  "130 interrupted.\n");
  return text;
}

}  // namespace gaitshelf::client
