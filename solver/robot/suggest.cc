#include "solver/robot/suggest.h"

#include <algorithm>
#include <cstddef>
#include <numeric>
#include <vector>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "solver/robot/rules.h"

namespace gaitshelf::solver {
namespace {

using google::protobuf::FieldDescriptor;

// Names this far apart may be a slip of the keyboard.
constexpr int kSlipDistance = 2;

// Returns the edit distance as far as it matters for a slip. A word may be as long as the text that
// somebody sent; one much longer than a name costs nothing.
int SlipDistance(absl::string_view word, absl::string_view name) {
  const std::size_t difference =
      std::max(word.size(), name.size()) - std::min(word.size(), name.size());
  return difference > std::size_t{kSlipDistance} ? kSlipDistance + 1 : EditDistance(word, name);
}

// Returns "mass" of "mass_kg"; the whole name when it has no unit.
absl::string_view Stem(absl::string_view field_name) {
  const Unit* unit = FindUnit(field_name);
  return unit == nullptr ? field_name
                         : field_name.substr(0, field_name.size() - unit->suffix.size());
}

// Returns whether the name is the field's stem, alone or with another unit behind it.
bool IsStemWithOtherUnit(absl::string_view name, absl::string_view field_name) {
  const absl::string_view stem = Stem(field_name);
  return stem.size() < field_name.size() &&
         (name == stem || absl::StartsWith(name, absl::StrCat(stem, "_")));
}

std::string Write(const FieldDescriptor& field) {
  const FieldRule* rule = FindRule(field);
  const bool is_number =
      rule != nullptr && (rule->kind == FieldKind::kNumber || rule->kind == FieldKind::kNumbers);
  return absl::StrCat("write ", field.name(), is_number ? absl::StrCat("; ", MendText(*rule)) : "");
}

}  // namespace

std::string SuggestField(const google::protobuf::Descriptor& type, absl::string_view name) {
  std::vector<std::string> names;
  const FieldDescriptor* nearest = nullptr;
  int nearest_distance = kSlipDistance + 1;
  // "foot_mass_g" starts with the stems of foot_m and of foot_mass_kg; the longest is meant.
  const FieldDescriptor* longest = nullptr;
  for (int i = 0; i < type.field_count(); ++i) {
    const FieldDescriptor& field = *type.field(i);
    names.push_back(field.name());
    const int distance = SlipDistance(name, field.name());
    if (distance < nearest_distance) {
      nearest_distance = distance;
      nearest = &field;
    }
    if (IsStemWithOtherUnit(name, field.name()) &&
        (longest == nullptr || Stem(field.name()).size() > Stem(longest->name()).size())) {
      longest = &field;
    }
  }
  const FieldDescriptor* meant = nearest != nullptr ? nearest : longest;
  return meant != nullptr ? Write(*meant) : absl::StrCat("use one of ", absl::StrJoin(names, ", "));
}

std::string SuggestChoice(const google::protobuf::EnumDescriptor& choices, absl::string_view name) {
  std::vector<std::string> names;
  for (int i = 1; i < choices.value_count(); ++i) {
    names.push_back(choices.value(i)->name());
    if (SlipDistance(name, names.back()) <= kSlipDistance) {
      return absl::StrCat("write ", names.back());
    }
  }
  return absl::StrCat("use one of ", absl::StrJoin(names, ", "));
}

int EditDistance(absl::string_view a, absl::string_view b) {
  // Row by row over the table of distances between beginnings of a and of b.
  std::vector<int> row(b.size() + 1);
  std::iota(row.begin(), row.end(), 0);
  for (size_t i = 1; i <= a.size(); ++i) {
    int diagonal = row[0];
    row[0] = static_cast<int>(i);
    for (size_t j = 1; j <= b.size(); ++j) {
      const int replaced = diagonal + (a[i - 1] == b[j - 1] ? 0 : 1);
      diagonal = row[j];
      row[j] = std::min({row[j] + 1, row[j - 1] + 1, replaced});
    }
  }
  return row.back();
}

}  // namespace gaitshelf::solver
