// The canonical text of a message: the same for every way of writing the same description.
#ifndef GAITSHELF_SOLVER_ROBOT_CANONICAL_H_
#define GAITSHELF_SOLVER_ROBOT_CANONICAL_H_

#include <set>
#include <string>

#include <google/protobuf/message.h>

namespace gaitshelf::solver {

// Returns one line per value, in the order of field numbers:
//
//   PATH=VALUE     a number, choice, truth value or text that differs from its default
//   PATH{          a part that is present, before its own lines
//
// A path is made of field numbers joined by dots, with [i] behind a repeated field, so that
// renaming a field changes nothing. A floating-point value is its 64 bits as 16 hexadecimal digits,
// -0 taken as 0; whole numbers and choices are decimal; text is quoted and C-escaped. Fields left
// out, or equal to their default, have no line; numbers inside an array always have one. Fields of
// the top message that are named in `left_out` are skipped, and so are fields that this version
// does not know.
std::string CanonicalText(const google::protobuf::Message& message,
                          const std::set<std::string>& left_out);

// Returns the SHA-256 of the bytes as 64 lower-case hexadecimal digits.
std::string Sha256Hex(const std::string& bytes);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_CANONICAL_H_
