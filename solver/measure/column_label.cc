#include "solver/measure/column_label.h"

#include <algorithm>
#include <array>
#include <cstddef>
#include <numbers>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "absl/strings/str_split.h"
#include "absl/strings/string_view.h"
#include "absl/strings/strip.h"
#include "solver/robot/violation.h"

namespace gaitshelf::solver {
namespace {

struct UnitName {
  absl::string_view name;
  double si_ratio = 0.0;
};

// The first is the SI unit.
struct UnitFamily {
  std::array<UnitName, 4> units;
  // True when a label may leave the unit out.
  bool may_be_absent = false;
};

constexpr double kDegree = std::numbers::pi / 180.0;
constexpr UnitFamily kRatio = {{{{"1", 1.0}, {"%", 0.01}}}, true};
constexpr UnitFamily kTime = {{{{"s", 1.0}, {"ms", 1e-3}, {"us", 1e-6}}}};
constexpr UnitFamily kLength = {{{{"m", 1.0}, {"mm", 1e-3}, {"um", 1e-6}}}};
constexpr UnitFamily kAngle = {{{{"rad", 1.0}, {"mrad", 1e-3}, {"deg", kDegree}}}};
constexpr UnitFamily kVoltage = {{{{"V", 1.0}, {"mV", 1e-3}, {"kV", 1e3}}}};
constexpr UnitFamily kCurrent = {{{{"A", 1.0}, {"mA", 1e-3}, {"uA", 1e-6}}}};
constexpr UnitFamily kPower = {{{{"W", 1.0}, {"mW", 1e-3}, {"uW", 1e-6}}}};
constexpr UnitFamily kForce = {{{{"N", 1.0}, {"mN", 1e-3}, {"uN", 1e-6}}}};
constexpr UnitFamily kMass = {{{{"kg", 1.0}, {"g", 1e-3}, {"mg", 1e-6}}}};

const UnitFamily& UnitsOf(v1::TrialQuantity quantity) {
  switch (quantity) {
    case v1::TRIAL_QUANTITY_TIME:
    case v1::TRIAL_QUANTITY_SLIDE_TIME:
      return kTime;
    case v1::TRIAL_QUANTITY_BODY_POSITION:
    case v1::TRIAL_QUANTITY_LEG_POSITION:
    case v1::TRIAL_QUANTITY_FOOT_POSITION:
    case v1::TRIAL_QUANTITY_SLIDE_DISTANCE:
      return kLength;
    case v1::TRIAL_QUANTITY_BODY_ATTITUDE:
    case v1::TRIAL_QUANTITY_TILT:
      return kAngle;
    case v1::TRIAL_QUANTITY_VOLTAGE:
      return kVoltage;
    case v1::TRIAL_QUANTITY_CURRENT:
      return kCurrent;
    case v1::TRIAL_QUANTITY_POWER:
      return kPower;
    case v1::TRIAL_QUANTITY_FOOT_FORCE:
    case v1::TRIAL_QUANTITY_PULL_FORCE:
    case v1::TRIAL_QUANTITY_NORMAL_FORCE:
    case v1::TRIAL_QUANTITY_APPLIED_FORCE:
      return kForce;
    case v1::TRIAL_QUANTITY_ADDED_MASS:
      return kMass;
    default:
      return kRatio;
  }
}

struct NamedQuantity {
  absl::string_view name;
  v1::TrialQuantity quantity = v1::TRIAL_QUANTITY_UNSPECIFIED;
  int axis = 0;
};

constexpr std::array kWhole = {
    NamedQuantity{"time", v1::TRIAL_QUANTITY_TIME},
    NamedQuantity{"phase", v1::TRIAL_QUANTITY_PHASE},
    NamedQuantity{"power", v1::TRIAL_QUANTITY_POWER},
    NamedQuantity{"tilt", v1::TRIAL_QUANTITY_TILT},
    NamedQuantity{"pull force", v1::TRIAL_QUANTITY_PULL_FORCE},
    NamedQuantity{"normal force", v1::TRIAL_QUANTITY_NORMAL_FORCE},
    NamedQuantity{"slide distance", v1::TRIAL_QUANTITY_SLIDE_DISTANCE},
    NamedQuantity{"slide time", v1::TRIAL_QUANTITY_SLIDE_TIME},
    NamedQuantity{"added mass", v1::TRIAL_QUANTITY_ADDED_MASS},
    NamedQuantity{"body x", v1::TRIAL_QUANTITY_BODY_POSITION, 0},
    NamedQuantity{"body y", v1::TRIAL_QUANTITY_BODY_POSITION, 1},
    NamedQuantity{"body z", v1::TRIAL_QUANTITY_BODY_POSITION, 2},
    NamedQuantity{"body roll", v1::TRIAL_QUANTITY_BODY_ATTITUDE, 0},
    NamedQuantity{"body pitch", v1::TRIAL_QUANTITY_BODY_ATTITUDE, 1},
    NamedQuantity{"body yaw", v1::TRIAL_QUANTITY_BODY_ATTITUDE, 2},
};
constexpr std::array kOfLeg = {
    NamedQuantity{"lift", v1::TRIAL_QUANTITY_LEG_POSITION, 0},
    NamedQuantity{"swing", v1::TRIAL_QUANTITY_LEG_POSITION, 1},
    NamedQuantity{"lift voltage", v1::TRIAL_QUANTITY_VOLTAGE, 0},
    NamedQuantity{"swing voltage", v1::TRIAL_QUANTITY_VOLTAGE, 1},
    NamedQuantity{"lift current", v1::TRIAL_QUANTITY_CURRENT, 0},
    NamedQuantity{"swing current", v1::TRIAL_QUANTITY_CURRENT, 1},
    NamedQuantity{"lift force", v1::TRIAL_QUANTITY_APPLIED_FORCE, 0},
    NamedQuantity{"swing force", v1::TRIAL_QUANTITY_APPLIED_FORCE, 1},
};
constexpr std::array kOfFoot = {
    NamedQuantity{"contact", v1::TRIAL_QUANTITY_CONTACT},
    NamedQuantity{"x", v1::TRIAL_QUANTITY_FOOT_POSITION, 0},
    NamedQuantity{"y", v1::TRIAL_QUANTITY_FOOT_POSITION, 1},
    NamedQuantity{"z", v1::TRIAL_QUANTITY_FOOT_POSITION, 2},
    NamedQuantity{"force x", v1::TRIAL_QUANTITY_FOOT_FORCE, 0},
    NamedQuantity{"force y", v1::TRIAL_QUANTITY_FOOT_FORCE, 1},
    NamedQuantity{"force z", v1::TRIAL_QUANTITY_FOOT_FORCE, 2},
};

template <std::size_t N>
const NamedQuantity* Find(const std::array<NamedQuantity, N>& list, absl::string_view name) {
  const auto* const found = std::find_if(
      list.begin(), list.end(), [name](const NamedQuantity& one) { return one.name == name; });
  return found == list.end() ? nullptr : found;
}

bool Contains(const std::vector<std::string>& names, absl::string_view name) {
  return std::find(names.begin(), names.end(), name) != names.end();
}

std::string KnownParts(const TrialParts& parts) {
  std::vector<std::string> names = parts.foot_names;
  names.insert(names.begin(), "body");
  return absl::StrJoin(names, ", ");
}

struct Read {
  const NamedQuantity* quantity = nullptr;
  std::string part;
};

// Finds what a name without its unit means.
absl::StatusOr<Read> ReadName(absl::string_view name, const TrialParts& parts) {
  if (const NamedQuantity* whole = Find(kWhole, name); whole != nullptr) {
    return Read{whole, ""};
  }
  const std::pair<absl::string_view, absl::string_view> split =
      absl::StrSplit(name, absl::MaxSplits(' ', 1));
  const auto [part, rest] = split;
  const bool is_leg = Contains(parts.leg_names, part);
  const bool is_foot = Contains(parts.foot_names, part);
  if (is_leg && Find(kOfLeg, rest) != nullptr) {
    return Read{Find(kOfLeg, rest), std::string(part)};
  }
  if (is_foot && Find(kOfFoot, rest) != nullptr) {
    return Read{Find(kOfFoot, rest), std::string(part)};
  }
  if (part == "body") {
    return absl::InvalidArgumentError(absl::StrCat(
        "a body has no ", QuotedText(rest), "; write body x, y, z, roll, pitch or yaw"));
  }
  if (is_leg || is_foot) {
    return absl::InvalidArgumentError(
        absl::StrCat("a part has no ",
                     QuotedText(rest),
                     "; write lift, swing, with voltage, current or force behind it, or contact, "
                     "x, y, z, force x, force y, force z"));
  }
  return absl::InvalidArgumentError(
      absl::StrCat("nothing is called ",
                   QuotedText(name),
                   "; begin with one of ",
                   KnownParts(parts),
                   ", or write time, phase, power, tilt, pull force, normal force, slide distance, "
                   "slide time or added mass"));
}

absl::StatusOr<double> ReadUnit(absl::string_view unit, bool is_given, v1::TrialQuantity quantity) {
  const UnitFamily& family = UnitsOf(quantity);
  if (!is_given && family.may_be_absent) {
    return 1.0;
  }
  std::string known;
  for (const UnitName& one : family.units) {
    if (is_given && !one.name.empty() && one.name == unit) {
      return one.si_ratio;
    }
    if (!one.name.empty()) {
      absl::StrAppend(&known, known.empty() ? "[" : " or [", one.name, "]");
    }
  }
  return absl::InvalidArgumentError(
      absl::StrCat(is_given ? absl::StrCat("the unit ", QuotedText(unit), " does not fit")
                            : std::string("the unit is missing"),
                   "; end with ",
                   known));
}

}  // namespace

TrialParts PartsOf(const v1::Robot& robot) {
  TrialParts parts;
  for (const v1::Leg& leg : robot.legs()) {
    parts.leg_names.push_back(leg.name());
  }
  parts.foot_names = parts.leg_names;
  for (const v1::BodyFoot& foot : robot.body_feet()) {
    parts.foot_names.push_back(foot.name());
  }
  return parts;
}

absl::StatusOr<v1::TrialColumn> ReadColumnLabel(const std::string& label, const TrialParts& parts) {
  absl::string_view name = absl::StripAsciiWhitespace(label);
  absl::string_view unit;
  const bool is_given = absl::ConsumeSuffix(&name, "]");
  if (is_given) {
    const std::size_t open = name.rfind('[');
    if (open == absl::string_view::npos) {
      return absl::InvalidArgumentError(
          "the bracket before the unit is missing; write name [unit]");
    }
    unit = absl::StripAsciiWhitespace(name.substr(open + 1));
    name = absl::StripTrailingAsciiWhitespace(name.substr(0, open));
  }
  const absl::StatusOr<Read> read = ReadName(name, parts);
  if (!read.ok()) {
    return read.status();
  }
  const absl::StatusOr<double> si_ratio = ReadUnit(unit, is_given, read->quantity->quantity);
  if (!si_ratio.ok()) {
    return si_ratio.status();
  }
  v1::TrialColumn column;
  column.set_label(label);
  column.set_quantity(read->quantity->quantity);
  column.set_part(read->part);
  column.set_axis(read->quantity->axis);
  column.set_si_ratio(*si_ratio);
  return column;
}

}  // namespace gaitshelf::solver
