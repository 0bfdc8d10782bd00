#include "solver/robot/rule_walk.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include <google/protobuf/descriptor.h>
#include <google/protobuf/reflection.h>
#include <google/protobuf/unknown_field_set.h>

#include "absl/strings/ascii.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "absl/time/civil_time.h"
#include "solver/robot/rules.h"

namespace gaitshelf::solver {
namespace {

using google::protobuf::EnumValueDescriptor;
using google::protobuf::FieldDescriptor;
using google::protobuf::Message;
using google::protobuf::OneofDescriptor;
using google::protobuf::Reflection;

// One field of one message with its rule, and where its faults go.
struct Visit {
  const Message& message;
  const FieldDescriptor& field;
  const FieldRule& rule;
  std::string path;
  Violations* violations;

  const Reflection& reflection() const { return *message.GetReflection(); }
  void Add(const std::string& value, const std::string& problem, const std::string& mend) const {
    AddFault({path, value, problem, mend}, violations);
  }
};

bool IsInRange(double value, const FieldRule& rule) {
  const bool is_above = rule.is_lower_open ? value > rule.lower : value >= rule.lower;
  return is_above && value <= rule.upper;
}

// Checks one number that was given.
void CheckGivenNumber(double value, const FieldRule& rule, const Visit& visit) {
  if (!std::isfinite(value)) {
    visit.Add(NumberText(value),
              absl::StrCat("is not a finite number; it ", RangeText(rule)),
              MendText(rule));
  } else if (!IsInRange(value, rule)) {
    visit.Add(NumberText(value), RangeText(rule), MendText(rule));
  }
}

double GetNumber(const Visit& visit) {
  switch (visit.field.cpp_type()) {
    case FieldDescriptor::CPPTYPE_DOUBLE:
      return visit.reflection().GetDouble(visit.message, &visit.field);
    case FieldDescriptor::CPPTYPE_INT32:
      return visit.reflection().GetInt32(visit.message, &visit.field);
    default:
      return std::nan("");
  }
}

void CheckNumber(const Visit& visit) {
  const double value = GetNumber(visit);
  const bool is_given = visit.field.has_presence()
                            ? visit.reflection().HasField(visit.message, &visit.field)
                            : value != 0.0;
  if (is_given) {
    CheckGivenNumber(value, visit.rule, visit);
  } else if (visit.rule.presence == Presence::kRequired) {
    visit.Add(kMissing,
              absl::StrCat("is required and ", RangeText(visit.rule)),
              absl::StrCat("add ", visit.field.name(), "; ", MendText(visit.rule)));
  }
}

void CheckNumbers(const Visit& visit) {
  const auto given = visit.reflection().GetRepeatedFieldRef<double>(visit.message, &visit.field);
  const std::vector<double> values(given.begin(), given.end());
  if (values.empty()) {
    if (visit.rule.presence == Presence::kRequired) {
      visit.Add(kMissing,
                absl::StrCat("is required and ", RangeText(visit.rule)),
                absl::StrCat("add ", visit.field.name(), "; ", MendText(visit.rule)));
    }
    return;
  }
  const auto wanted = static_cast<size_t>(visit.rule.count);
  if (values.size() != wanted) {
    visit.Add(NumbersText(values),
              absl::StrCat("holds ", values.size(), " numbers; it ", RangeText(visit.rule)),
              MendText(visit.rule));
  }
  // Those beyond the count are told of together, above: there may be a hundred thousand of them.
  for (size_t i = 0; i < std::min(values.size(), wanted); ++i) {
    Visit element = visit;
    element.path = absl::StrCat(visit.path, "[", i, "]");
    FieldRule rule = visit.rule;
    rule.kind = FieldKind::kNumber;
    rule.presence = Presence::kRequired;
    CheckGivenNumber(values[i], rule, element);
  }
}

bool IsName(const std::string& text) {
  constexpr size_t kMostCount = 63;
  if (text.empty() || text.size() > kMostCount ||
      !absl::ascii_islower(static_cast<unsigned char>(text[0]))) {
    return false;
  }
  for (const char c : text) {
    const auto u = static_cast<unsigned char>(c);
    if (!absl::ascii_islower(u) && !absl::ascii_isdigit(u) && c != '-') {
      return false;
    }
  }
  return true;
}

void CheckName(const std::string& text, const Visit& visit) {
  constexpr char kRule[] =
      "must be 1 to 63 lower-case letters, digits and hyphens, the first a letter";
  if (text.empty()) {
    visit.Add(kMissing,
              absl::StrCat("is required and ", kRule),
              absl::StrCat("add ", visit.field.name(), ", such as \"front-left\" or \"weevil\""));
  } else if (!IsName(text)) {
    visit.Add(QuotedText(text), kRule, "rename it, such as \"front-left\" or \"weevil\"");
  }
}

void CheckLine(const std::string& text, const Visit& visit) {
  constexpr size_t kMostCount = 500;
  bool is_line = text.size() <= kMostCount;
  for (const char c : text) {
    is_line = is_line && !absl::ascii_iscntrl(static_cast<unsigned char>(c));
  }
  if (!is_line) {
    visit.Add(QuotedText(text),
              absl::StrCat("must be one line of at most ", kMostCount, " bytes"),
              "shorten it and take out line breaks and control characters");
  }
}

// The list as a whole; false when it is too long to be looked at one by one.
bool CheckCount(const Visit& visit) {
  const int count = visit.reflection().FieldSize(visit.message, &visit.field);
  if (count <= visit.rule.count) {
    return true;
  }
  visit.Add(absl::StrCat(count, " entries"),
            absl::StrCat("must have at most ", visit.rule.count, " entries"),
            "take out what is too much");
  return false;
}

void CheckNames(const Visit& visit) {
  if (!CheckCount(visit)) {
    return;
  }
  for (int i = 0; i < visit.reflection().FieldSize(visit.message, &visit.field); ++i) {
    Visit element = visit;
    element.path = absl::StrCat(visit.path, "[", i, "]");
    CheckName(visit.reflection().GetRepeatedString(visit.message, &visit.field, i), element);
  }
}

void CheckDate(const std::string& text, const Visit& visit) {
  absl::CivilDay day;
  // Written back, so that 2026-02-30, which rolls over to March, is found.
  if (text.empty() || (absl::ParseCivilTime(text, &day) && absl::FormatCivilTime(day) == text)) {
    return;
  }
  visit.Add(QuotedText(text),
            "must be a day of the calendar as YYYY-MM-DD",
            "write it as in \"2026-03-09\", or leave it out");
}

void CheckText(const Visit& visit) {
  const std::string text = visit.reflection().GetString(visit.message, &visit.field);
  switch (visit.rule.kind) {
    case FieldKind::kName:
      return CheckName(text, visit);
    case FieldKind::kDate:
      return CheckDate(text, visit);
    default:
      return CheckLine(text, visit);
  }
}

void CheckChoice(const Visit& visit) {
  if (visit.field.cpp_type() == FieldDescriptor::CPPTYPE_BOOL) {
    return;  // both are
  }
  const int value = visit.reflection().GetEnumValue(visit.message, &visit.field);
  const google::protobuf::EnumDescriptor& choices = *visit.field.enum_type();
  if (choices.FindValueByNumber(value) != nullptr) {
    return;
  }
  std::vector<std::string> names;
  for (int i = 1; i < choices.value_count(); ++i) {
    names.push_back(choices.value(i)->name());
  }
  visit.Add(absl::StrCat(value),
            "is not one of the known choices",
            absl::StrCat("give one of ", absl::StrJoin(names, ", "), ", or leave it out"));
}

// Message types do not refer to themselves, so the recursion is as deep as they are.
// NOLINTBEGIN(misc-no-recursion)
void CheckPart(const Visit& visit) {
  if (visit.reflection().HasField(visit.message, &visit.field)) {
    AddRuleFaults(
        visit.reflection().GetMessage(visit.message, &visit.field), visit.path, visit.violations);
  } else if (visit.rule.presence == Presence::kRequired) {
    visit.Add(kMissing, "is required", absl::StrCat("add ", visit.field.name(), " { ... }"));
  }
}

void CheckParts(const Visit& visit) {
  if (!CheckCount(visit)) {
    return;
  }
  for (int i = 0; i < visit.reflection().FieldSize(visit.message, &visit.field); ++i) {
    AddRuleFaults(visit.reflection().GetRepeatedMessage(visit.message, &visit.field, i),
                  absl::StrCat(visit.path, "[", i, "]"),
                  visit.violations);
  }
}

void CheckField(const Visit& visit) {
  switch (visit.rule.kind) {
    case FieldKind::kNumber:
      return CheckNumber(visit);
    case FieldKind::kNumbers:
      return CheckNumbers(visit);
    case FieldKind::kName:
    case FieldKind::kLine:
    case FieldKind::kDate:
      return CheckText(visit);
    case FieldKind::kChoice:
      return CheckChoice(visit);
    case FieldKind::kPart:
      return CheckPart(visit);
    case FieldKind::kParts:
      return CheckParts(visit);
    case FieldKind::kNames:
      return CheckNames(visit);
  }
}

// NOLINTEND(misc-no-recursion)

// Every oneof of these messages asks for one of its fields.
void CheckOneof(const Message& message,
                const OneofDescriptor& oneof,
                const std::string& path,
                Violations* violations) {
  if (message.GetReflection()->HasOneof(message, &oneof)) {
    return;
  }
  std::vector<std::string> names;
  names.reserve(static_cast<size_t>(oneof.field_count()));
  for (int i = 0; i < oneof.field_count(); ++i) {
    names.push_back(oneof.field(i)->name());
  }
  const std::string list = absl::StrJoin(names, " or ");
  AddFault({FieldPath(path, oneof.name()),
            kMissing,
            absl::StrCat("is required: ", list),
            absl::StrCat("add ", list, " { ... }")},
           violations);
}

void CheckUnknown(const Message& message, const std::string& path, Violations* violations) {
  const auto& unknown = message.GetReflection()->GetUnknownFields(message);
  for (int i = 0; i < unknown.field_count(); ++i) {
    AddFault({FieldPath(path, absl::StrCat("#", unknown.field(i).number())),
              "of a newer version",
              "is a field that this version does not know and would ignore",
              "use a newer server, or take the field out"},
             violations);
  }
}

}  // namespace

std::string FieldPath(const std::string& path, const std::string& field) {
  return path.empty() ? field : absl::StrCat(path, ".", field);
}

// A description is as deep as its message types, which do not refer to themselves.
// NOLINTNEXTLINE(misc-no-recursion)
void AddRuleFaults(const Message& message, const std::string& path, Violations* violations) {
  const google::protobuf::Descriptor& type = *message.GetDescriptor();
  for (int i = 0; i < type.field_count(); ++i) {
    const FieldDescriptor& field = *type.field(i);
    if (const FieldRule* rule = FindRule(field); rule != nullptr) {
      CheckField({message, field, *rule, FieldPath(path, field.name()), violations});
    }
  }
  // The real ones come first; behind them stand those that proto3 makes for `optional`.
  for (int i = 0; i < type.real_oneof_decl_count(); ++i) {
    CheckOneof(message, *type.oneof_decl(i), path, violations);
  }
  CheckUnknown(message, path, violations);
}

}  // namespace gaitshelf::solver
