// Reads a message in protobuf text form and goes on after a fault, so that all faults are told at
// once.
//
// It is for descriptions: messages of numbers (double), text, choices and parts, singular or
// repeated, whose types do not refer to themselves. Extensions and packed Any values are not read.
// Values are not checked: see check.h.
#ifndef GAITSHELF_SOLVER_ROBOT_TEXT_READER_H_
#define GAITSHELF_SOLVER_ROBOT_TEXT_READER_H_

#include <string>
#include <vector>

#include <google/protobuf/message.h>

#include "solver/robot/violation.h"

namespace gaitshelf::solver {

// One fault with its place in the text; line and column count from 1, a tab reaches to the next
// multiple of 8.
struct TextFault {
  int line = 1;
  int column = 1;
  Fault fault;
};

// Clears the message and fills it from the text, which has at most 512 KiB and 65,536 words.
// Returns the faults in the order of the text; of more than 20, the first 20 that were found and
// one that says so. Empty when all was understood. They are UTF-8, whatever the text is.
std::vector<TextFault> ReadText(const std::string& text, google::protobuf::Message* message);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_TEXT_READER_H_
