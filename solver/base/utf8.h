// Text from outside that should be UTF-8; RFC 3629.
#ifndef GAITSHELF_SOLVER_BASE_UTF8_H_
#define GAITSHELF_SOLVER_BASE_UTF8_H_

#include <string>

#include "absl/strings/string_view.h"

namespace gaitshelf::solver {

// Returns whether the bytes are valid UTF-8.
bool IsUtf8(absl::string_view bytes);

// Returns the bytes with U+FFFD in the place of each that belongs to no character.
std::string ToUtf8(absl::string_view bytes);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_BASE_UTF8_H_
