// Reads quantities with a unit, as flags carry them: 12Hz, 9mm, 0.3deg. A number without its unit
// is refused, because nobody can tell 9 mm from 9 m afterwards.
#ifndef GAITSHELF_CLIENTS_CLI_QUANTITY_H_
#define GAITSHELF_CLIENTS_CLI_QUANTITY_H_

#include <vector>

#include "absl/status/statusor.h"
#include "absl/strings/string_view.h"

namespace gaitshelf::client {

enum class Dimension { kLength, kFrequency, kTime, kAngle, kVoltage };

// Returns the quantity in SI units: m, Hz, s, rad or V. Decimal units are applied to the digits, so
// that 9mm is the same number as 0.009m to the last bit.
//
// Errors:
//   kInvalidArgument   no number, no unit, a unit of another dimension, or not finite; the message
//                      says what to write
absl::StatusOr<double> ParseQuantity(absl::string_view text, Dimension dimension);

// Returns a list of quantities: one or more after commas, each a quantity or a range
// "FROM:TO:STEP", such as 2Hz:30Hz:2Hz, whose ends belong to it. Repeated ones are kept once.
//
// Errors:
//   kInvalidArgument   as ParseQuantity; a range that is empty, endless or longer than 1000
absl::StatusOr<std::vector<double>> ParseQuantities(absl::string_view text, Dimension dimension);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_QUANTITY_H_
