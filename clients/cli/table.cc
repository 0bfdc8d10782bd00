#include "clients/cli/table.h"

#include <algorithm>
#include <cstddef>
#include <numbers>
#include <string>
#include <utility>

#include <google/protobuf/util/time_util.h>

#include "absl/strings/ascii.h"
#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/strings/str_join.h"
#include "absl/strings/str_replace.h"

namespace gaitshelf::client {

Table::Table(std::vector<std::string> headings) : headings_(std::move(headings)) {
  for (std::string& heading : headings_) {
    is_right_.push_back(absl::StartsWith(heading, ">"));
    if (is_right_.back()) {
      heading.erase(0, 1);
    }
  }
}

void Table::AddRow(std::vector<std::string> cells) {
  cells.resize(headings_.size());
  rows_.push_back(std::move(cells));
}

std::string Table::ToText() const {
  std::vector<std::size_t> widths;
  for (std::size_t column = 0; column < headings_.size(); ++column) {
    std::size_t width = headings_[column].size();
    for (const auto& row : rows_) {
      width = std::max(width, row[column].size());
    }
    widths.push_back(width);
  }
  std::string text;
  const auto append = [&](const std::vector<std::string>& cells) {
    std::string line;
    for (std::size_t column = 0; column < cells.size(); ++column) {
      const std::string blanks(widths[column] - cells[column].size(), ' ');
      absl::StrAppend(&line,
                      column == 0 ? "" : "  ",
                      is_right_[column] ? blanks : "",
                      cells[column],
                      is_right_[column] ? "" : blanks);
    }
    absl::StrAppend(&text, absl::StripTrailingAsciiWhitespace(line), "\n");
  };
  append(headings_);
  for (const auto& row : rows_) {
    append(row);
  }
  return text;
}

Table& NamedTables::Of(const std::string& name) {
  const auto found = std::find_if(
      tables_.begin(), tables_.end(), [&name](const auto& one) { return one.first == name; });
  return found != tables_.end() ? found->second
                                : tables_.emplace_back(name, Table(headings_)).second;
}

std::string NamedTables::ToText(std::size_t least_named) const {
  std::string text;
  for (const auto& [name, table] : tables_) {
    if (tables_.size() >= least_named) {
      absl::StrAppend(&text, text.empty() ? "" : "\n", name, "\n");
    }
    absl::StrAppend(&text, table.ToText());
  }
  return tables_.empty() ? Table(headings_).ToText() : text;
}

std::string Millimetres(double length_m) { return absl::StrFormat("%.2f mm", length_m * 1e3); }

std::string Hertz(double frequency_hz) { return absl::StrFormat("%g Hz", frequency_hz); }

std::string Scientific(double ratio) { return absl::StrFormat("%.1e", ratio); }

std::string Fixed(double value, int decimals) { return absl::StrFormat("%.*f", decimals, value); }

namespace {

std::string Degrees(double angle_rad) {
  return absl::StrFormat("%.4g deg", angle_rad * 180.0 / std::numbers::pi);
}

std::string AdvanceText(const v1::Advance& advance) {
  if (advance.is_maximal()) {
    return "advance max";
  }
  std::vector<std::string> parts;
  if (advance.advance_m() != 0.0) {
    parts.push_back(absl::StrFormat("advance %g mm", advance.advance_m() * 1e3));
  }
  if (advance.sidestep_m() != 0.0) {
    parts.push_back(absl::StrFormat("sidestep %g mm", advance.sidestep_m() * 1e3));
  }
  if (advance.turn_rad() != 0.0) {
    parts.push_back(absl::StrCat("turn ", Degrees(advance.turn_rad())));
  }
  return absl::StrJoin(parts, " ");
}

std::string StandText(const v1::Stand& stand) {
  std::string text = absl::StrFormat("stand %+g mm", stand.height_m() * 1e3);
  if (stand.roll_rad() != 0.0) {
    absl::StrAppend(&text, " roll ", Degrees(stand.roll_rad()));
  }
  if (stand.pitch_rad() != 0.0) {
    absl::StrAppend(&text, " pitch ", Degrees(stand.pitch_rad()));
  }
  return text;
}

// Names of gaits are long: their first digits tell them apart.
std::string TransitionText(const v1::Transition& transition) {
  constexpr std::size_t kDigits = 6;
  return absl::StrFormat("%s@%.2g into %s@%.2g",
                         transition.from_gait().substr(0, kDigits),
                         transition.from_phase_ratio(),
                         transition.to_gait().substr(0, kDigits),
                         transition.to_phase_ratio());
}

}  // namespace

std::string ShortTime(const google::protobuf::Timestamp& time) {
  google::protobuf::Timestamp seconds = time;
  seconds.set_nanos(0);
  return google::protobuf::util::TimeUtil::ToString(seconds);
}

std::string ShortTitle(const std::string& title, std::size_t most) {
  if (title.size() <= most) {
    return title;
  }
  std::size_t end = most - 3;
  // Bytes 10xxxxxx go on with a character that began before them; it is not torn apart.
  while (end > 0 && (static_cast<unsigned char>(title[end]) & 0xc0U) == 0x80U) {
    --end;
  }
  return title.substr(0, end) + "...";
}

std::string TaskText(const v1::Task& task) {
  switch (task.kind_case()) {
    case v1::Task::kAdvance:
      return AdvanceText(task.advance());
    case v1::Task::kHop:
      return absl::StrCat(absl::StrFormat("hop %g mm", task.hop().rise_m() * 1e3),
                          task.hop().advance_m() == 0.0
                              ? ""
                              : absl::StrFormat(" over %g mm", task.hop().advance_m() * 1e3));
    case v1::Task::kStand:
      return StandText(task.stand());
    case v1::Task::kTransition:
      return TransitionText(task.transition());
    case v1::Task::KIND_NOT_SET:
      break;
  }
  return "no task";
}

std::string SurfacesText(const std::string& first,
                         const google::protobuf::RepeatedPtrField<std::string>& also_on) {
  std::string text = first;
  for (int i = 0; i < also_on.size(); ++i) {
    absl::StrAppend(&text, i + 1 < also_on.size() ? ", " : " and ", also_on[i]);
  }
  return text;
}

std::string SurfacesCell(const std::string& first, int also_on_count) {
  constexpr std::size_t kWidth = 10;
  return also_on_count == 0 ? first.substr(0, kWidth)
                            : absl::StrCat(first.substr(0, kWidth - 2), "+", also_on_count);
}

std::string VerdictText(v1::Verdict verdict) {
  return verdict == v1::VERDICT_UNSPECIFIED ? "not audited"
                                            : EnumText(v1::Verdict_Name(verdict), "VERDICT_");
}

std::string StateText(v1::JobState state) {
  return EnumText(v1::JobState_Name(state), "JOB_STATE_");
}

std::string PhaseText(v1::PlanPhase phase) {
  return phase == v1::PLAN_PHASE_UNSPECIFIED ? "starting"
                                             : EnumText(v1::PlanPhase_Name(phase), "PLAN_PHASE_");
}

std::string EnumText(absl::string_view value_name, absl::string_view prefix) {
  if (absl::StartsWith(value_name, prefix)) {
    value_name.remove_prefix(prefix.size());
  }
  return absl::StrReplaceAll(absl::AsciiStrToLower(value_name), {{"_", " "}});
}

}  // namespace gaitshelf::client
