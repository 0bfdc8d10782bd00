#include "solver/robot/text_reader.h"

#include <algorithm>
#include <map>
#include <utility>

#include <google/protobuf/descriptor.h>

#include "absl/strings/match.h"
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/string_view.h"
#include "solver/base/utf8.h"
#include "solver/robot/rule_walk.h"
#include "solver/robot/rules.h"
#include "solver/robot/suggest.h"
#include "solver/robot/tokens.h"

namespace gaitshelf::solver {
namespace {

using google::protobuf::EnumValueDescriptor;
using google::protobuf::FieldDescriptor;
using google::protobuf::Message;
using google::protobuf::Reflection;

// A robot within the rules, of 16 legs with 16 links each and numbers of 17 digits, takes 340 kB
// and 30,000 words as protobuf writes it; what is larger is no description.
constexpr size_t kMostBytes = 1 << 19;
constexpr size_t kMostWords = 1 << 16;
// Whoever mends so many faults reads the text again.
constexpr size_t kMostFaults = 20;

// Goes over the words once. Recursion follows the message types only, so that no text can make it
// deep.
class Reader final {
 public:
  Reader(std::vector<Token> tokens, std::vector<TextFault>* faults)
      : tokens_(std::move(tokens)), faults_(faults) {}

  void ReadAll(Message* message) {
    ReadFields("", message);
    while (Now().kind != TokenKind::kEnd) {
      AddStructureFault("", "a closing bracket without an opening one", "take it out");
      Skip();
      ReadFields("", message);
    }
  }

 private:
  // Where a value goes.
  struct Target {
    Message* message;
    const FieldDescriptor* field;
    std::string path;
  };

  const Token& Now() const { return tokens_[next_]; }
  const Token& After() const { return tokens_[std::min(next_ + 1, tokens_.size() - 1)]; }
  bool IsSign(absl::string_view signs) const {
    return Now().kind == TokenKind::kSign && absl::StrContains(signs, Now().text);
  }
  void Skip() { next_ = std::min(next_ + 1, tokens_.size() - 1); }
  bool SkipSign(absl::string_view signs) {
    const bool is_sign = IsSign(signs);
    if (is_sign) {
      Skip();
    }
    return is_sign;
  }

  void Add(const Token& at, Fault fault) {
    // One more than is told, which shows that there are more.
    if (faults_->size() <= kMostFaults) {
      faults_->push_back({at.line, at.column, std::move(fault)});
    } else {
      next_ = tokens_.size() - 1;
    }
  }

  // Tells of a misplaced word; once a line, since one slip upsets the words behind it.
  void AddStructureFault(const std::string& path,
                         const std::string& problem,
                         const std::string& mend) {
    if (Now().line != last_structure_line_) {
      Add(Now(), {path.empty() ? "the description" : path, Shown(Now()), problem, mend});
    }
    last_structure_line_ = Now().line;
  }

  // Skips a value that cannot be used, with all that its brackets hold.
  void SkipValue() {
    int depth = 0;
    do {
      if (IsSign("{<[")) {
        ++depth;
      } else if (IsSign("}>]")) {
        --depth;
      }
      const bool is_minus = IsSign("-");
      Skip();
      if (is_minus && depth == 0) {
        Skip();
      }
    } while (depth > 0 && Now().kind != TokenKind::kEnd);
    while (Now().kind == TokenKind::kText) {
      Skip();
    }
  }

  // Reads fields until a closing bracket or the end.
  // NOLINTNEXTLINE(misc-no-recursion)
  void ReadFields(const std::string& path, Message* message) {
    std::map<const FieldDescriptor*, int> first_line;
    while (Now().kind != TokenKind::kEnd && !IsSign("}>")) {
      if (Now().kind == TokenKind::kName) {
        ReadField(path, message, &first_line);
      } else {
        AddStructureFault(path, "stands where a field name should", "write NAME: VALUE");
        SkipValue();
      }
      SkipSign(",;");
    }
  }

  // NOLINTNEXTLINE(misc-no-recursion)
  void ReadField(const std::string& path,
                 Message* message,
                 std::map<const FieldDescriptor*, int>* first_line) {
    const Token name = Now();
    Skip();
    const FieldDescriptor* field = message->GetDescriptor()->FindFieldByName(name.text);
    const std::string field_path = FieldPath(path, ShownWord(name.text));
    if (field == nullptr) {
      Add(name,
          {field_path,
           "unknown",
           absl::StrCat("is not a field of ", message->GetDescriptor()->name()),
           SuggestField(*message->GetDescriptor(), name.text)});
      SkipUnknownValue();
      return;
    }
    const auto [first, is_new] = first_line->emplace(field, name.line);
    if (!is_new && !field->is_repeated()) {
      Add(name,
          {field_path,
           "given twice",
           absl::StrCat("may be given once, and was given in line ", first->second),
           "take one of them out"});
    }
    if (is_new) {
      ReportRival(name, *field, field_path, *first_line);
    }
    const bool is_part = field->cpp_type() == FieldDescriptor::CPPTYPE_MESSAGE;
    if (!SkipSign(":") && !is_part) {
      AddStructureFault(field_path, "stands where a colon should", "write NAME: VALUE");
      if (Now().kind == TokenKind::kName || Now().kind == TokenKind::kEnd || IsSign("}>")) {
        return;
      }
    }
    ReadValues({message, field, field_path});
  }

  // Of fields that exclude each other the last would count, and what the others say be lost.
  void ReportRival(const Token& name,
                   const FieldDescriptor& field,
                   const std::string& field_path,
                   const std::map<const FieldDescriptor*, int>& first_line) {
    if (field.real_containing_oneof() == nullptr) {
      return;
    }
    for (const auto& [other, line] : first_line) {
      if (other != &field && other->real_containing_oneof() == field.real_containing_oneof()) {
        Add(name,
            {field_path,
             absl::StrCat("given beside ", other->name()),
             absl::StrCat(
                 "may not stand beside ", other->name(), ", which was given in line ", line),
             "take one of them out"});
      }
    }
  }

  void SkipUnknownValue() {
    if (SkipSign(":") || IsSign("{<[")) {
      if (Now().kind != TokenKind::kEnd && !IsSign("}>")) {
        SkipValue();
      }
    }
  }

  // Reads one value, or a list of them in square brackets.
  // NOLINTNEXTLINE(misc-no-recursion)
  void ReadValues(const Target& target) {
    if (!IsSign("[")) {
      ReadValue(target);
      return;
    }
    if (!target.field->is_repeated()) {
      Add(Now(), {target.path, "a list", "must be one value", "take the square brackets out"});
      SkipValue();
      return;
    }
    const Token open = Now();
    Skip();
    while (!IsSign("]")) {
      if (Now().kind == TokenKind::kEnd || IsSign("}>") || After().text == ":") {
        Add(open, {target.path, "a list", "has no end", "close it with ]"});
        return;
      }
      ReadValue(target);
      SkipSign(",");
    }
    Skip();
  }

  // NOLINTNEXTLINE(misc-no-recursion)
  void ReadValue(Target target) {
    const Reflection& reflection = *target.message->GetReflection();
    if (target.field->is_repeated()) {
      absl::StrAppend(&target.path, "[", reflection.FieldSize(*target.message, target.field), "]");
    }
    switch (target.field->cpp_type()) {
      case FieldDescriptor::CPPTYPE_MESSAGE:
        return ReadPart(target);
      case FieldDescriptor::CPPTYPE_DOUBLE:
        return ReadNumber(target);
      case FieldDescriptor::CPPTYPE_ENUM:
        return ReadChoice(target);
      case FieldDescriptor::CPPTYPE_STRING:
        return ReadString(target);
      default:
        Add(Now(), {target.path, Shown(Now()), "cannot be given as text", "take it out"});
        return SkipValue();
    }
  }

  void AddWrongKind(const Target& target, const std::string& problem, const std::string& mend) {
    const bool is_closing = Now().kind == TokenKind::kEnd || IsSign("}>]");
    Add(Now(), {target.path, is_closing ? kMissing : Shown(Now()), problem, mend});
    if (!is_closing) {
      SkipValue();
    }
  }

  // NOLINTNEXTLINE(misc-no-recursion)
  void ReadPart(const Target& target) {
    const std::string bracket = Now().text;
    const Token open = Now();
    if (!IsSign("{<")) {
      AddWrongKind(target,
                   "must be a part in curly brackets",
                   absl::StrCat("write ", target.field->name(), " { ... }"));
      return;
    }
    Skip();
    const Reflection& reflection = *target.message->GetReflection();
    ReadFields(target.path,
               target.field->is_repeated()
                   ? reflection.AddMessage(target.message, target.field)
                   : reflection.MutableMessage(target.message, target.field));
    if (!SkipSign(bracket == "{" ? "}" : ">")) {
      Add(open, {target.path, "a part", "has no end", "close it with }"});
      SkipSign("}>");
    }
  }

  void ReadNumber(const Target& target) {
    const FieldRule* rule = FindRule(*target.field);
    const std::string mend = rule == nullptr ? "give a number" : MendText(*rule);
    const size_t start = next_;
    const double sign = SkipSign("-") ? -1.0 : 1.0;
    double value = 0.0;
    if (!ParseNumber(Now(), &value)) {
      next_ = start;
      AddWrongKind(target, "must be a number", mend);
      return;
    }
    Skip();
    ReportUnitBehind(target, mend);
    Store(target, sign * value);
  }

  // A word behind a number, in its line, that starts no field is a unit: "1.9 g", "1.4 N/mm".
  void ReportUnitBehind(const Target& target, const std::string& mend) {
    const Token number = tokens_[next_ - 1];
    std::string unit;
    while (Now().kind != TokenKind::kEnd && Now().line == number.line && !IsSign("}>],;") &&
           !(After().kind == TokenKind::kSign && absl::StrContains(":{<", After().text))) {
      unit += Now().text;
      Skip();
    }
    if (!unit.empty()) {
      Add(number,
          {target.path,
           ShownWord(absl::StrCat(number.text, " ", unit)),
           "must be a number without anything behind it",
           mend});
    }
  }

  static void Store(const Target& target, double value) {
    const Reflection& reflection = *target.message->GetReflection();
    if (target.field->is_repeated()) {
      reflection.AddDouble(target.message, target.field, value);
    } else {
      reflection.SetDouble(target.message, target.field, value);
    }
  }

  void ReadChoice(const Target& target) {
    const google::protobuf::EnumDescriptor& choices = *target.field->enum_type();
    int number = 0;
    const EnumValueDescriptor* choice = nullptr;
    if (Now().kind == TokenKind::kName) {
      choice = choices.FindValueByName(Now().text);
    } else if (Now().kind == TokenKind::kNumber && absl::SimpleAtoi(Now().text, &number)) {
      choice = choices.FindValueByNumber(number);
    }
    if (choice == nullptr) {
      AddWrongKind(target, "is not one of the known choices", SuggestChoice(choices, Now().text));
      return;
    }
    Skip();
    const Reflection& reflection = *target.message->GetReflection();
    if (target.field->is_repeated()) {
      reflection.AddEnum(target.message, target.field, choice);
    } else {
      reflection.SetEnum(target.message, target.field, choice);
    }
  }

  void ReadString(const Target& target) {
    if (Now().kind != TokenKind::kText) {
      AddWrongKind(
          target, "must be text in quotes", absl::StrCat("write \"", ShownWord(Now().text), "\""));
      return;
    }
    const Token first = Now();
    std::string text;
    while (Now().kind == TokenKind::kText) {
      text += UnquotedText(Now());
      Skip();
    }
    if (!IsUtf8(text)) {
      Add(first, {target.path, QuotedText(text), "is not valid UTF-8", "save the file as UTF-8"});
      return;
    }
    const Reflection& reflection = *target.message->GetReflection();
    if (target.field->is_repeated()) {
      reflection.AddString(target.message, target.field, text);
    } else {
      reflection.SetString(target.message, target.field, text);
    }
  }

  std::vector<Token> tokens_;
  std::vector<TextFault>* faults_;
  size_t next_ = 0;
  int last_structure_line_ = 0;
};

std::vector<TextFault> TooLarge(size_t size, size_t most, const std::string& unit) {
  return {{1,
           1,
           {"the description",
            absl::StrCat(size, " ", unit),
            absl::StrCat("must be at most ", most, " ", unit),
            "give the description of one robot or one surface"}}};
}

// Brings faults into the order of the text, and says so where it leaves some out.
void SortAndCut(std::vector<TextFault>* faults) {
  std::stable_sort(faults->begin(), faults->end(), [](const TextFault& a, const TextFault& b) {
    return std::pair(a.line, a.column) < std::pair(b.line, b.column);
  });
  if (faults->size() > kMostFaults) {
    faults->resize(kMostFaults);
    faults->push_back({faults->back().line,
                       faults->back().column,
                       {"the description",
                        "not read on",
                        absl::StrCat("has more than ", kMostFaults, " faults"),
                        "mend these first"}});
  }
}

}  // namespace

std::vector<TextFault> ReadText(const std::string& text, Message* message) {
  message->Clear();
  if (text.size() > kMostBytes) {
    return TooLarge(text.size(), kMostBytes, "bytes");
  }
  Tokens tokens = CutTokens(text, kMostWords + 1);
  const size_t word_count = tokens.list.size() - 1;
  if (word_count > kMostWords) {
    return TooLarge(word_count, kMostWords, "words");
  }
  std::vector<TextFault> faults;
  Reader(std::move(tokens.list), &faults).ReadAll(message);
  for (const TokenFault& fault : tokens.faults) {
    faults.push_back(
        {fault.line,
         fault.column,
         {"the description", "unreadable", fault.problem, "see the text form of protobuf"}});
  }
  SortAndCut(&faults);
  return faults;
}

}  // namespace gaitshelf::solver
