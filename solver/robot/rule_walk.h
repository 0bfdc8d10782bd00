// Goes through a message and all its parts and reports every field that breaks its rule.
#ifndef GAITSHELF_SOLVER_ROBOT_RULE_WALK_H_
#define GAITSHELF_SOLVER_ROBOT_RULE_WALK_H_

#include <string>

#include <google/protobuf/message.h>

#include "solver/robot/violation.h"

namespace gaitshelf::solver {

// Adds the faults of the message's fields; `path` is the message's own path, empty for the top.
// Also reports fields that this version of the program does not know, since it would ignore them.
void AddRuleFaults(const google::protobuf::Message& message,
                   const std::string& path,
                   Violations* violations);

// Returns the path of a field in a message with that path.
std::string FieldPath(const std::string& path, const std::string& field);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_RULE_WALK_H_
