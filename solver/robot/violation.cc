#include "solver/robot/violation.h"

#include <cstdio>
#include <cstdlib>
#include <string>

#include "absl/strings/escaping.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"

namespace gaitshelf::solver {

void AddFault(const Fault& fault, Violations* violations) {
  v1::FieldViolation& violation = violations->emplace_back();
  violation.set_field(fault.field);
  violation.set_value(fault.value);
  violation.set_problem(fault.problem);
  violation.set_mend(fault.mend);
}

std::string NumberText(double value) {
  // 17 digits name every double; most written by people need fewer.
  char text[32];
  for (int digit_count = 6; digit_count <= 17; ++digit_count) {
    std::snprintf(text, sizeof text, "%.*g", digit_count, value);
    if (std::strtod(text, nullptr) == value) {
      break;
    }
  }
  return text;
}

std::string NumbersText(absl::Span<const double> values) {
  const auto append = [](std::string* out, double value) {
    absl::StrAppend(out, NumberText(value));
  };
  constexpr size_t kShownCount = 12;
  return absl::StrCat("[",
                      absl::StrJoin(values.subspan(0, kShownCount), ", ", append),
                      values.size() > kShownCount ? ", ...]" : "]");
}

std::string QuotedText(absl::string_view text) {
  constexpr size_t kShownCount = 80;
  const std::string shown = absl::CEscape(text.substr(0, kShownCount));
  return absl::StrCat("\"", shown, "\"", text.size() > kShownCount ? "..." : "");
}

}  // namespace gaitshelf::solver
