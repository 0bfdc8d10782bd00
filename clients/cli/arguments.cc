#include "clients/cli/arguments.h"

#include <algorithm>
#include <cstddef>
#include <utility>

#include "absl/strings/ascii.h"
#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "absl/strings/str_split.h"

namespace gaitshelf::client {
namespace {

// Number of single-letter insertions, removals and replacements that turn one word into the other.
std::size_t EditCount(const std::string& left, const std::string& right) {
  std::vector<std::size_t> row(right.size() + 1);
  for (std::size_t j = 0; j < row.size(); ++j) {
    row[j] = j;
  }
  for (std::size_t i = 1; i <= left.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= right.size(); ++j) {
      const std::size_t replaced = diagonal + (left[i - 1] == right[j - 1] ? 0U : 1U);
      diagonal = row[j];
      row[j] = std::min({row[j] + 1, row[j - 1] + 1, replaced});
    }
  }
  return row.back();
}

// Adds a fault when the word is a choice and the value is none of it.
void CheckChoice(const std::string& name,
                 const std::string& value_word,
                 const std::string& value,
                 std::vector<std::string>& faults) {
  const std::vector<std::string> choices = Choices(value_word);
  if (!choices.empty() && std::find(choices.begin(), choices.end(), value) == choices.end()) {
    faults.push_back(
        absl::StrCat(name, "'", value, "' is no choice; use ", absl::StrJoin(choices, ", ")));
  }
}

// The long form "--name" of a word that is a flag's letter after one dash; else the word itself.
std::string LongForm(const VerbSpec& verb, const std::string& word) {
  if (word.size() == 2 && word[0] == '-') {
    for (const FlagSpec& flag : verb.flags) {
      if (flag.letter == word.substr(1)) {
        return absl::StrCat("--", flag.name);
      }
    }
  }
  return word;
}

const FlagSpec* FindFlag(const VerbSpec& verb, const std::string& name) {
  for (const auto* list : {&verb.flags, &GlobalFlags()}) {
    for (const FlagSpec& flag : *list) {
      if (flag.name == name) {
        return &flag;
      }
    }
  }
  return nullptr;
}

std::string UnknownFlag(const VerbSpec& verb, const std::string& name) {
  std::vector<std::string> names;
  for (const auto* list : {&verb.flags, &GlobalFlags()}) {
    for (const FlagSpec& flag : *list) {
      names.push_back(flag.name);
    }
  }
  const std::string nearest = NearestWord(name, names);
  return nearest.empty()
             ? absl::StrCat("--", name, ": '", verb.path, "' takes no such flag")
             : absl::StrCat(
                   "--", name, ": '", verb.path, "' takes no such flag; meant --", nearest, "?");
}

// Sorts what follows a verb into flags and words.
class Sorter {
 public:
  Sorter(const VerbSpec& verb,
         const std::vector<std::string>& given,
         std::vector<std::string>& faults)
      : verb_(verb), given_(given), faults_(faults) {}

  void Sort() {
    while (next_ < given_.size()) {
      const std::string word = LongForm(verb_, given_[next_++]);
      if (absl::StartsWith(word, "--") && word.size() > 2) {
        TakeFlag(word);
      } else {
        words_.push_back(word);
      }
    }
  }

  const std::map<std::string, std::string>& flags() const { return flags_; }
  const std::vector<std::string>& words() const { return words_; }

 private:
  bool IsValueNext() const {
    return next_ < given_.size() && !absl::StartsWith(given_[next_], "--");
  }

  void TakeFlag(const std::string& word) {
    const std::size_t equals = word.find('=');
    const bool has_value = equals != std::string::npos;
    const std::string name = word.substr(2, has_value ? equals - 2 : equals);
    const FlagSpec* flag = FindFlag(verb_, name);
    if (flag == nullptr) {
      faults_.push_back(UnknownFlag(verb_, name));
      // Its value, if any, would otherwise be reported as a word too many.
      if (!has_value && IsValueNext() && words_.size() >= verb_.words.size()) {
        ++next_;
      }
      return;
    }
    std::string value = has_value ? word.substr(equals + 1) : std::string();
    const bool takes_value = !flag->value_word.empty();
    if (has_value && !takes_value) {
      faults_.push_back(absl::StrCat("--", name, " takes no value"));
    } else if (!has_value && takes_value) {
      if (!IsValueNext()) {
        faults_.push_back(
            absl::StrCat("--", name, " needs a value: --", name, " ", flag->value_word));
        return;
      }
      value = given_[next_++];
    }
    CheckChoice(absl::StrCat("--", name, ": "), flag->value_word, value, faults_);
    if (!flags_.emplace(name, std::move(value)).second) {
      faults_.push_back(absl::StrCat("--", name, " is given twice; give it once"));
    }
  }

  const VerbSpec& verb_;
  const std::vector<std::string>& given_;
  std::vector<std::string>& faults_;
  std::size_t next_ = 0;
  std::map<std::string, std::string> flags_;
  std::vector<std::string> words_;
};

// Adds a fault for each word that is no choice, is missing or is one too many.
void CheckWords(const VerbSpec& verb,
                const std::vector<std::string>& words,
                std::vector<std::string>& faults) {
  for (std::size_t i = 0; i < std::min(words.size(), verb.words.size()); ++i) {
    CheckChoice("", verb.words[i], words[i], faults);
  }
  for (std::size_t i = words.size(); i < verb.words.size(); ++i) {
    faults.push_back(absl::StrCat(verb.words[i], " is missing"));
  }
  const bool takes_more = !verb.words.empty() && absl::EndsWith(verb.words.back(), "...");
  for (std::size_t i = verb.words.size(); i < words.size() && !takes_more; ++i) {
    faults.push_back(absl::StrCat("'", words[i], "' is one word too many"));
  }
}

}  // namespace

std::optional<std::string> Arguments::Value(const std::string& flag) const {
  const auto found = flags_.find(flag);
  if (found == flags_.end()) {
    return std::nullopt;
  }
  return found->second;
}

bool Arguments::Has(const std::string& flag) const { return flags_.count(flag) > 0; }

std::vector<std::string> Choices(const std::string& value_word) {
  if (value_word.empty() || !absl::ascii_islower(static_cast<unsigned char>(value_word[0]))) {
    return {};
  }
  return absl::StrSplit(value_word, '|');
}

const std::vector<FlagSpec>& GlobalFlags() {
  static const auto* const flags = new std::vector<FlagSpec>{
      {"server", "ADDRESS", "where the server listens: unix:/run/g.sock or a port"},
      {"identity", "FOLDER", "who you are to a server on another machine; from deploy/lab-ca"},
      {"json", "", "answer as JSON with the field names of the messages, SI units"},
      {"help", "", "show this help"},
  };
  return *flags;
}

absl::StatusOr<Arguments> ParseArguments(const VerbSpec& verb,
                                         const std::vector<std::string>& words,
                                         absl::Status (*check)(const Arguments&)) {
  std::vector<std::string> faults;
  Sorter sorter(verb, words, faults);
  sorter.Sort();
  Arguments parsed;
  parsed.flags_ = sorter.flags();
  parsed.words_ = sorter.words();
  if (parsed.Has("help")) {
    return parsed;
  }
  CheckWords(verb, parsed.words_, faults);
  for (const FlagSpec& flag : verb.flags) {
    if (flag.is_required && !parsed.Has(flag.name)) {
      faults.push_back(absl::StrCat("--", flag.name, " ", flag.value_word, " is missing"));
    }
  }
  if (check != nullptr) {
    if (const absl::Status status = check(parsed); !status.ok()) {
      faults.emplace_back(status.message());
    }
  }
  if (!faults.empty()) {
    return absl::InvalidArgumentError(absl::StrJoin(faults, "\n"));
  }
  return parsed;
}

std::string NearestWord(const std::string& word, const std::vector<std::string>& candidates) {
  std::string best;
  std::size_t best_count = 3;
  for (const std::string& candidate : candidates) {
    const std::size_t count = EditCount(word, candidate);
    if (count < best_count) {
      best_count = count;
      best = candidate;
    }
  }
  return best;
}

}  // namespace gaitshelf::client
