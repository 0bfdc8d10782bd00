#include "tests/bench/options.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <utility>

#include "absl/strings/match.h"
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "absl/strings/str_split.h"

namespace gaitshelf::bench {
namespace {

template <typename Range>
std::string RangeText(const char* kind, const Range& range) {
  if (range.most == Range().most) {
    return absl::StrCat(kind, " of ", range.least, " or more");
  }
  return absl::StrCat(kind, " from ", range.least, " to ", range.most);
}

// "a, b or c".
std::string Alternatives(const std::vector<std::string>& choices) {
  const auto last = choices.end() - 1;
  return choices.size() < 2
             ? *last
             : absl::StrCat(absl::StrJoin(choices.begin(), last, ", "), " or ", *last);
}

bool IsAmong(const std::vector<std::string>& choices, const std::string& text) {
  return std::find(choices.begin(), choices.end(), text) != choices.end();
}

}  // namespace

OptionReader& OptionReader::Add(Option option) {
  options_.push_back(std::move(option));
  return *this;
}

OptionReader& OptionReader::Whole(const std::string& name, WholeRange range, int* value) {
  return Add({name, "N", RangeText("a whole number", range), [range, value](const auto& text) {
                int number = 0;
                if (!absl::SimpleAtoi(text, &number) || number < range.least ||
                    number > range.most) {
                  return false;
                }
                *value = number;
                return true;
              }});
}

OptionReader& OptionReader::Number(const std::string& name, NumberRange range, double* value) {
  return Add({name, "X", RangeText("a number", range), [range, value](const auto& text) {
                double number = 0.0;
                if (!absl::SimpleAtod(text, &number) || !std::isfinite(number) ||
                    number < range.least || number > range.most) {
                  return false;
                }
                *value = number;
                return true;
              }});
}

OptionReader& OptionReader::Text(const std::string& name,
                                 const std::string& label,
                                 std::string* value) {
  return Add({name, label, absl::StrCat("a ", label), [value](const auto& text) {
                *value = text;
                return !text.empty();
              }});
}

OptionReader& OptionReader::Choice(const std::string& name,
                                   const std::vector<std::string>& choices,
                                   std::string* value) {
  return Add({name,
              absl::StrJoin(choices, "|"),
              Alternatives(choices),
              [choices, value](const auto& text) {
                *value = text;
                return IsAmong(choices, text);
              }});
}

OptionReader& OptionReader::Choices(const std::string& name,
                                    const std::vector<std::string>& choices,
                                    std::vector<std::string>* values) {
  return Add({name,
              absl::StrJoin(choices, ","),
              absl::StrCat(Alternatives(choices), ", or more of them with commas between"),
              [choices, values](const auto& text) {
                *values = absl::StrSplit(text, ',');
                return std::all_of(values->begin(), values->end(), [&](const auto& one) {
                  return IsAmong(choices, one);
                });
              }});
}

const OptionReader::Option* OptionReader::Find(const std::string& name) const {
  const auto found = std::find_if(
      options_.begin(), options_.end(), [&](const Option& option) { return option.name == name; });
  return found == options_.end() ? nullptr : &*found;
}

absl::Status OptionReader::Read(const std::vector<std::string>& words) const {
  std::vector<std::string> faults;
  for (std::size_t i = 0; i < words.size(); ++i) {
    const Option* const option = Find(words[i]);
    // A negative number has one hyphen.
    const bool has_value = i + 1 < words.size() && !absl::StartsWith(words[i + 1], "--");
    if (option == nullptr) {
      faults.push_back(
          absl::StrCat("'",
                       words[i],
                       "' is not an option; use ",
                       absl::StrJoin(options_, ", ", [](std::string* text, const Option& known) {
                         text->append(known.name);
                       })));
      if (has_value && absl::StartsWith(words[i], "--")) {
        ++i;  // over its value
      }
    } else if (!has_value) {
      faults.push_back(absl::StrCat(option->name, " has no value; use ", option->rule));
    } else if (!option->take(words[++i])) {
      faults.push_back(absl::StrCat(option->name, " is '", words[i], "'; use ", option->rule));
    }
  }
  return faults.empty() ? absl::OkStatus()
                        : absl::InvalidArgumentError(absl::StrJoin(faults, "\n"));
}

bool OptionReader::Read(int argc, char** argv) const {
  const absl::Status status = Read(std::vector<std::string>(argv + 1, argv + argc));
  if (!status.ok()) {
    std::fprintf(stderr,
                 "%s: %s\n%s\n",
                 program_.c_str(),
                 std::string(status.message()).c_str(),
                 Usage().c_str());
  }
  return status.ok();
}

std::string OptionReader::Usage() const {
  std::string text = absl::StrCat("usage: ", program_);
  for (const Option& option : options_) {
    absl::StrAppend(&text, " [", option.name, " ", option.label, "]");
  }
  return text;
}

}  // namespace gaitshelf::bench
