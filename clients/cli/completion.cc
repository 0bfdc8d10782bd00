#include "clients/cli/completion.h"

#include <algorithm>
#include <cstddef>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_split.h"

namespace gaitshelf::client {
namespace {

// Adds a word that begins as typed, once.
void Offer(const std::string& word, const std::string& typed, Candidates& candidates) {
  std::vector<std::string>& words = candidates.words;
  if (absl::StartsWith(word, typed) && std::find(words.begin(), words.end(), word) == words.end()) {
    words.push_back(word);
  }
}

void OfferValue(const std::string& value_word, const std::string& typed, Candidates& candidates) {
  candidates.is_file = absl::StartsWith(value_word, "FILE");
  for (const std::string& choice : Choices(value_word)) {
    Offer(choice, typed, candidates);
  }
}

// The flag that a word is, if it takes a value.
const FlagSpec* ValuedFlag(const VerbSpec& verb, const std::string& word) {
  for (const auto* list : {&verb.flags, &GlobalFlags()}) {
    for (const FlagSpec& flag : *list) {
      const bool is_it = word == absl::StrCat("--", flag.name) ||
                         (!flag.letter.empty() && word == absl::StrCat("-", flag.letter));
      if (is_it && !flag.value_word.empty()) {
        return &flag;
      }
    }
  }
  return nullptr;
}

// Completes what follows a verb; `rest` is at least what is typed.
Candidates CompleteVerb(const VerbSpec& verb, const std::vector<std::string>& rest) {
  Candidates candidates;
  const std::string& typed = rest.back();
  std::size_t place = 0;
  for (std::size_t i = 0; i + 1 < rest.size(); ++i) {
    const FlagSpec* flag = ValuedFlag(verb, rest[i]);
    if (flag != nullptr && i + 2 == rest.size()) {
      OfferValue(flag->value_word, typed, candidates);
      return candidates;
    }
    if (flag != nullptr) {
      ++i;
    } else if (!absl::StartsWith(rest[i], "-")) {
      ++place;
    }
  }
  if (place < verb.words.size() && !absl::StartsWith(typed, "-")) {
    OfferValue(verb.words[place], typed, candidates);
    return candidates;
  }
  for (const auto* list : {&verb.flags, &GlobalFlags()}) {
    for (const FlagSpec& flag : *list) {
      Offer(absl::StrCat("--", flag.name), typed, candidates);
    }
  }
  return candidates;
}

}  // namespace

Candidates Complete(const std::vector<VerbSpec>& verbs, const std::vector<std::string>& words) {
  Candidates candidates;
  if (words.empty()) {
    return candidates;
  }
  for (const VerbSpec& verb : verbs) {
    const std::vector<std::string> parts = absl::StrSplit(verb.path, ' ');
    const std::size_t count = std::min(parts.size(), words.size() - 1);
    if (!std::equal(
            parts.begin(), parts.begin() + static_cast<std::ptrdiff_t>(count), words.begin())) {
      continue;
    }
    if (count == parts.size()) {
      return CompleteVerb(verb, {words.begin() + static_cast<std::ptrdiff_t>(count), words.end()});
    }
    Offer(parts[count], words.back(), candidates);
  }
  return candidates;
}

std::string BashCompletion() {
  return absl::StrCat(R"bash(# Completion of gaitshelf for bash. Use it now:
#   eval "$(gaitshelf completion bash)"
# or keep it for every shell:
#   gaitshelf completion bash > ~/.local/share/bash-completion/completions/gaitshelf
_gaitshelf() {
  local typed=${COMP_WORDS[COMP_CWORD]}
  mapfile -t COMPREPLY < <("${COMP_WORDS[0]}" )bash",
                      kCompletionRequest,
                      R"bash( "${COMP_WORDS[@]:1:COMP_CWORD}" 2>/dev/null)
  if [[ ${COMPREPLY[0]} == FILE ]]; then
    mapfile -t COMPREPLY < <(compgen -f -- "$typed")
    compopt -o filenames 2>/dev/null
  fi
}
complete -F _gaitshelf gaitshelf
)bash");
}

}  // namespace gaitshelf::client
