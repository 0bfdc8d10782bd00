// Guesses which name was meant by one that is not known.
#ifndef GAITSHELF_SOLVER_ROBOT_SUGGEST_H_
#define GAITSHELF_SOLVER_ROBOT_SUGGEST_H_

#include <string>

#include <google/protobuf/descriptor.h>

#include "absl/strings/string_view.h"

namespace gaitshelf::solver {

// Returns how to mend an unknown field name of a message: the field that was probably meant, with
// its unit ("write mass_kg; give kilograms: 1.9 g is 0.0019"), or the fields there are.
std::string SuggestField(const google::protobuf::Descriptor& type, absl::string_view name);

// Returns how to mend an unknown choice.
std::string SuggestChoice(const google::protobuf::EnumDescriptor& choices, absl::string_view name);

// Returns the least number of letters to insert, delete or replace that makes b of a.
int EditDistance(absl::string_view a, absl::string_view b);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_SUGGEST_H_
