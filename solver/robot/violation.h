// Makes the faults that a check reports, and writes the values in them.
#ifndef GAITSHELF_SOLVER_ROBOT_VIOLATION_H_
#define GAITSHELF_SOLVER_ROBOT_VIOLATION_H_

#include <string>
#include <vector>

#include "gaitshelf/v1/check.pb.h"

#include "absl/strings/string_view.h"
#include "absl/types/span.h"

namespace gaitshelf::solver {

using Violations = std::vector<v1::FieldViolation>;

// What stands in FieldViolation.value when nothing was given.
inline constexpr char kMissing[] = "missing";

// The four parts of one fault; see FieldViolation.
struct Fault {
  std::string field;
  std::string value;
  std::string problem;
  std::string mend;
};

void AddFault(const Fault& fault, Violations* violations);

// Return a value as a fault shows it: the shortest decimal that reads back as the same number;
// "[0, 0, 1]", cut after 12 numbers; text in quotes, escaped and cut after 80 characters.
std::string NumberText(double value);
std::string NumbersText(absl::Span<const double> values);
std::string QuotedText(absl::string_view text);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_VIOLATION_H_
