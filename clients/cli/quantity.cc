#include "clients/cli/quantity.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <vector>

#include "absl/strings/ascii.h"
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/strings/str_join.h"
#include "absl/strings/str_split.h"

namespace gaitshelf::client {
namespace {

constexpr double kMostSteps = 1000.0;

struct Unit {
  const char* suffix;
  // The unit is factor * 10^exponent of the SI unit.
  int exponent;
  double factor;
};

struct DimensionUnits {
  const char* word;
  // The first one stands in examples.
  std::vector<Unit> units;
};

const DimensionUnits& UnitsOf(Dimension dimension) {
  static const auto* const length =
      new DimensionUnits{"length", {{"mm", -3, 1.0}, {"m", 0, 1.0}, {"um", -6, 1.0}}};
  static const auto* const frequency =
      new DimensionUnits{"frequency", {{"Hz", 0, 1.0}, {"kHz", 3, 1.0}}};
  static const auto* const time = new DimensionUnits{"time", {{"s", 0, 1.0}, {"ms", -3, 1.0}}};
  static const auto* const angle =
      new DimensionUnits{"angle", {{"deg", 0, M_PI / 180.0}, {"rad", 0, 1.0}}};
  static const auto* const voltage = new DimensionUnits{"voltage", {{"V", 0, 1.0}}};
  switch (dimension) {
    case Dimension::kLength:
      return *length;
    case Dimension::kFrequency:
      return *frequency;
    case Dimension::kTime:
      return *time;
    case Dimension::kAngle:
      return *angle;
    case Dimension::kVoltage:
      return *voltage;
  }
  return *length;
}

bool IsDigit(char letter) { return letter >= '0' && letter <= '9'; }

// Splits "9.5e1mm" into digits "9.5", exponent 1 and suffix "mm". An "e" without digits after it
// belongs to the suffix.
struct Pieces {
  std::string digits;
  int exponent = 0;
  std::string suffix;
};

Pieces Split(absl::string_view text) {
  std::size_t end = 0;
  if (end < text.size() && (text[end] == '+' || text[end] == '-')) {
    ++end;
  }
  while (end < text.size() && (IsDigit(text[end]) || text[end] == '.')) {
    ++end;
  }
  Pieces pieces;
  pieces.digits = std::string(text.substr(0, end));
  if (end < text.size() && (text[end] == 'e' || text[end] == 'E')) {
    std::size_t stop = end + 1;
    if (stop < text.size() && (text[stop] == '+' || text[stop] == '-')) {
      ++stop;
    }
    while (stop < text.size() && IsDigit(text[stop])) {
      ++stop;
    }
    if (absl::SimpleAtoi(text.substr(end + 1, stop - end - 1), &pieces.exponent)) {
      end = stop;
    }
  }
  pieces.suffix = std::string(absl::StripLeadingAsciiWhitespace(text.substr(end)));
  return pieces;
}

}  // namespace

absl::StatusOr<double> ParseQuantity(absl::string_view text, Dimension dimension) {
  const DimensionUnits& known = UnitsOf(dimension);
  const Pieces pieces = Split(absl::StripAsciiWhitespace(text));
  const std::string unit_list =
      absl::StrJoin(known.units, ", ", [](std::string* out, const Unit& unit) {
        absl::StrAppend(out, unit.suffix);
      });
  double plain = 0.0;
  if (!absl::SimpleAtod(pieces.digits, &plain)) {
    return absl::InvalidArgumentError(absl::StrCat("'",
                                                   text,
                                                   "' is not a ",
                                                   known.word,
                                                   "; write a number and a unit (",
                                                   unit_list,
                                                   "), such as 9",
                                                   known.units[0].suffix));
  }
  if (pieces.suffix.empty()) {
    return absl::InvalidArgumentError(absl::StrCat("'",
                                                   text,
                                                   "' has no unit; write ",
                                                   text,
                                                   known.units[0].suffix,
                                                   " or another ",
                                                   known.word,
                                                   " unit (",
                                                   unit_list,
                                                   ")"));
  }
  for (const Unit& unit : known.units) {
    if (pieces.suffix != unit.suffix) {
      continue;
    }
    double value = 0.0;
    const std::string shifted = absl::StrCat(pieces.digits, "e", pieces.exponent + unit.exponent);
    if (!absl::SimpleAtod(shifted, &value) || !std::isfinite(value * unit.factor)) {
      return absl::InvalidArgumentError(
          absl::StrCat("'", text, "' is too large to be a ", known.word));
    }
    return value * unit.factor;
  }
  return absl::InvalidArgumentError(absl::StrCat(
      "'", text, "' has the unit '", pieces.suffix, "'; a ", known.word, " takes ", unit_list));
}

namespace {

// Appends what one part of a list stands for.
absl::Status AppendPart(absl::string_view part, Dimension dimension, std::vector<double>& values) {
  std::vector<double> ends;
  for (const absl::string_view text : absl::StrSplit(part, ':')) {
    const absl::StatusOr<double> end = ParseQuantity(text, dimension);
    if (!end.ok()) {
      return end.status();
    }
    ends.push_back(*end);
  }
  if (ends.size() == 1) {
    values.push_back(ends[0]);
    return absl::OkStatus();
  }
  const double steps = ends.size() == 3 ? (ends[1] - ends[0]) / ends[2] : -1.0;
  // Written so that a step of 0 fails too.
  if (!(steps >= 0.0 && steps < kMostSteps)) {
    return absl::InvalidArgumentError(
        absl::StrCat("'", part, "' is no range of up to 1000 steps; write FROM:TO:STEP"));
  }
  // 1e-9: the end belongs to the range whatever the rounding.
  for (int i = 0; i <= static_cast<int>(std::floor(steps + 1e-9)); ++i) {
    // Nine digits give the double that the same number has when it is written out.
    double value = 0.0;
    if (absl::SimpleAtod(absl::StrFormat("%.9g", ends[0] + i * ends[2]), &value)) {
      values.push_back(value);
    }
  }
  return absl::OkStatus();
}

}  // namespace

absl::StatusOr<std::vector<double>> ParseQuantities(absl::string_view text, Dimension dimension) {
  std::vector<double> values;
  for (const absl::string_view part : absl::StrSplit(text, ',')) {
    if (const absl::Status status = AppendPart(part, dimension, values); !status.ok()) {
      return status;
    }
  }
  std::vector<double> once;
  for (const double value : values) {
    if (std::find(once.begin(), once.end(), value) == once.end()) {
      once.push_back(value);
    }
  }
  return once;
}

}  // namespace gaitshelf::client
