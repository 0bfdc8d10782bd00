// The rule of every single field of a robot, a surface and an order, as a table.
//
// What one field alone can break stands here; what takes two fields stands in check.cc and
// check_robot.cc. The comments in proto/ state the same ranges for the reader; a new field needs a
// line in the table (a test finds a field without one).
#ifndef GAITSHELF_SOLVER_ROBOT_RULES_H_
#define GAITSHELF_SOLVER_ROBOT_RULES_H_

#include <limits>
#include <string>

#include <google/protobuf/descriptor.h>

#include "absl/strings/string_view.h"

namespace gaitshelf::solver {

enum class FieldKind {
  kNumber,   // one floating-point number or integer
  kNumbers,  // an array of floating-point numbers of fixed length
  kName,     // lower-case letters, digits and hyphens
  kLine,     // one line of text, for people
  kDate,     // YYYY-MM-DD
  kChoice,   // an enumeration or a yes or no
  kPart,     // a message
  kParts,    // a list of messages
  kNames,    // a list of names
};

enum class Presence {
  kRequired,  // must be given
  kOptional,  // may be left out; the range binds only what is given
};

struct FieldRule {
  absl::string_view field;  // "Body.mass_kg"
  FieldKind kind = FieldKind::kNumber;
  Presence presence = Presence::kOptional;
  double lower = -std::numeric_limits<double>::infinity();
  double upper = std::numeric_limits<double>::infinity();
  bool is_lower_open = false;  // the lower end itself is not allowed
  int count = 0;               // numbers of an array, or most entries of a list
};

// How a unit is written and a common slip is put right.
struct Unit {
  absl::string_view suffix;   // "_kg"
  absl::string_view symbol;   // "kg"
  absl::string_view name;     // "kilograms"
  absl::string_view example;  // "1.9 g is 0.0019"
};

// Returns the rule of a field; null when the table has none.
const FieldRule* FindRule(const google::protobuf::FieldDescriptor& field);

// Returns the unit that a field's name ends in; null when it has none.
const Unit* FindUnit(absl::string_view field_name);

// Returns what the rule allows, such as "must be more than 0 and at most 10 kg".
std::string RangeText(const FieldRule& rule);

// Returns how to give a value of the rule's field, such as "give kilograms: 1.9 g is 0.0019".
std::string MendText(const FieldRule& rule);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_RULES_H_
