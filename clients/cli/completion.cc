#include "clients/cli/completion.h"

#include <algorithm>
#include <cstddef>
#include <utility>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_split.h"
#include "absl/strings/string_view.h"
#include "absl/strings/strip.h"

namespace gaitshelf::client {
namespace {

// Adds a word that begins as typed, once.
void Offer(const std::string& word, const std::string& typed, Candidates& candidates) {
  std::vector<std::string>& words = candidates.words;
  if (absl::StartsWith(word, typed) && std::find(words.begin(), words.end(), word) == words.end()) {
    words.push_back(word);
  }
}

// Offers names, if the word stands for any.
void OfferNames(absl::string_view value_word, const std::string& typed, Candidates& candidates) {
  static const auto* const kinds =
      new std::vector<std::pair<std::string, NameKind>>{{"ROBOT", NameKind::kRobot},
                                                        {"SURFACE", NameKind::kSurface},
                                                        {"GAIT", NameKind::kGait},
                                                        {"JOB", NameKind::kJob},
                                                        {"TRIAL", NameKind::kTrial},
                                                        {"CALIBRATION", NameKind::kCalibration}};
  candidates.typed = typed;
  if (absl::ConsumeSuffix(&value_word, ",...")) {
    const std::size_t comma = typed.rfind(',');
    const std::size_t begin = comma == std::string::npos ? 0 : comma + 1;
    candidates.before = typed.substr(0, begin);
    candidates.typed = typed.substr(begin);
  }
  absl::ConsumeSuffix(&value_word, "...");
  for (const absl::string_view part : absl::StrSplit(value_word, '|')) {
    for (const auto& [word, kind] : *kinds) {
      if (part == word) {
        candidates.kinds.push_back(kind);
      }
    }
  }
}

void OfferValue(const std::string& value_word, const std::string& typed, Candidates& candidates) {
  candidates.is_file = absl::StartsWith(value_word, "FILE");
  OfferNames(value_word, typed, candidates);
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

std::string LastWord(const VerbSpec& verb) {
  return verb.words.empty() ? std::string() : verb.words.back();
}

// Completes what follows a verb; `rest` is at least what is typed.
Candidates CompleteVerb(const VerbSpec& verb, const std::vector<std::string>& rest) {
  Candidates candidates;
  const std::string& typed = rest.back();
  // A flag and its value in one word.
  if (const std::size_t equals = typed.find('='); equals != std::string::npos) {
    if (const FlagSpec* flag = ValuedFlag(verb, typed.substr(0, equals)); flag != nullptr) {
      OfferValue(flag->value_word, typed.substr(equals + 1), candidates);
      return candidates;
    }
  }
  std::size_t place = 0;
  std::string last_word;
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
      last_word = rest[i];
    }
  }
  // The last word may be many.
  if (place > 0 && place >= verb.words.size() && absl::EndsWith(LastWord(verb), "...")) {
    place = verb.words.size() - 1;
  }
  if (place < verb.words.size() && !absl::StartsWith(typed, "-")) {
    const auto kind = verb.name_after.find(last_word);
    OfferValue(kind == verb.name_after.end() ? verb.words[place] : kind->second, typed, candidates);
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
  # Split at blanks only: COMP_WORDS is split at = and : as well, and an address has those.
  local line=${COMP_LINE:0:COMP_POINT} words
  read -ra words <<< "$line"
  [[ $line == *[[:space:]] ]] && words+=("")
  mapfile -t COMPREPLY < <("${words[0]}" )bash",
                      kCompletionRequest,
                      R"bash( "${words[@]:1}" 2>/dev/null)
  if [[ ${COMPREPLY[0]} == FILE ]]; then
    mapfile -t COMPREPLY < <(compgen -f -- "$2")
    compopt -o filenames 2>/dev/null
  fi
}
complete -F _gaitshelf gaitshelf
)bash");
}

}  // namespace gaitshelf::client
