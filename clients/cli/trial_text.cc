#include "clients/cli/trial_text.h"

#include <cmath>
#include <cstddef>
#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/strings/str_replace.h"
#include "absl/strings/str_split.h"
#include "clients/cli/table.h"

namespace gaitshelf::client {
namespace {

std::string KindText(v1::TrialKind kind) {
  return EnumText(v1::TrialKind_Name(kind), "TRIAL_KIND_");
}

std::string ClockText(v1::TrialClock clock) {
  return EnumText(v1::TrialClock_Name(clock), "TRIAL_CLOCK_");
}

// Units that people read: mm for m, mm/s for m/s; others stay.
struct Shown {
  double factor = 1.0;
  std::string unit;
  int decimals = 3;
};

Shown ShownUnit(const std::string& unit) {
  if (unit == "m") {
    return {.factor = 1e3, .unit = "mm"};
  }
  if (unit == "m/s") {
    return {.factor = 1e3, .unit = "mm/s", .decimals = 2};
  }
  if (unit == "V") {
    return {.unit = unit, .decimals = 1};
  }
  return {.unit = unit == "1" ? "" : unit};
}

std::string FigureText(const v1::MeasuredFigure& figure, const std::string& unit) {
  if (figure.count() == 0) {
    return "not measured";
  }
  const Shown shown = ShownUnit(unit);
  return absl::StrFormat("%.*f %s, spread %.*f %s, %d cycles",
                         shown.decimals,
                         shown.factor * figure.mean_si(),
                         shown.unit,
                         shown.decimals,
                         shown.factor * figure.deviation_si(),
                         shown.unit,
                         figure.count());
}

void AddLine(const std::string& name, const std::string& text, std::string* to) {
  absl::StrAppendFormat(to, "%-19s%s\n", name, text);
}

std::string DelayText(const v1::DelayEstimate& delay) {
  switch (delay.outcome()) {
    case v1::DELAY_OUTCOME_FOUND:
      return absl::StrFormat(
          "%.3f ms, uncertainty %.3f ms", 1e3 * delay.delay_s(), 1e3 * delay.uncertainty_s());
    case v1::DELAY_OUTCOME_AMBIGUOUS:
      return "ambiguous";
    case v1::DELAY_OUTCOME_NOT_FOUND:
      return "not found";
    default:
      return "none, one clock";
  }
}

std::string PowerText(v1::PowerKind kind) {
  switch (kind) {
    case v1::POWER_KIND_LOGGED:
      return "as logged";
    case v1::POWER_KIND_NET_OF_RETURN:
      return "voltage times current, what flows back is returned";
    case v1::POWER_KIND_CHARGING:
      return "charging of the drives, nothing is returned";
    default:
      return "";
  }
}

std::string OneDecimal(bool is_there, double value) {
  return is_there ? Fixed(value, 3) : std::string("-");
}

std::string FootTable(const v1::TrialAnalysis& analysis) {
  Table table({"foot", ">duty", ">touchdown", ">limb phase", ">slip mm", ">forward mm"});
  for (const v1::FootAnalysis& foot : analysis.feet()) {
    table.AddRow(
        {foot.foot(),
         OneDecimal(foot.duty_ratio().count() > 0, foot.duty_ratio().mean_si()),
         OneDecimal(foot.touchdown_phase_ratio().count() > 0,
                    foot.touchdown_phase_ratio().mean_ratio()),
         OneDecimal(foot.limb_phase_ratio().count() > 0, foot.limb_phase_ratio().mean_ratio()),
         OneDecimal(foot.slip_m().count() > 0, 1e3 * foot.slip_m().mean_si()),
         OneDecimal(foot.slip_along_m().count() > 0, 1e3 * foot.slip_along_m().mean_si())});
  }
  return table.ToText();
}

std::string LegTable(const v1::TrialAnalysis& analysis) {
  Table table({"leg", "coordinate", ">error mm", ">peak mm", ">gain", ">lag ms"});
  for (const v1::LegAnalysis& leg : analysis.legs()) {
    const auto add = [&](const char* coordinate, const v1::TrackingError& error) {
      table.AddRow({leg.leg(),
                    coordinate,
                    Fixed(1e3 * error.rms_m(), 3),
                    Fixed(1e3 * error.peak_m(), 3),
                    Fixed(error.gain_ratio(), 3),
                    Fixed(1e3 * error.lag_s(), 2)});
    };
    if (leg.has_lift()) {
      add("lift", leg.lift());
    }
    if (leg.has_swing()) {
      add("swing", leg.swing());
    }
  }
  return table.empty() ? "" : table.ToText();
}

std::string NotesText(const v1::TrialAnalysis& analysis) {
  std::string text;
  for (const v1::AnalysisNote& note : analysis.notes()) {
    absl::StrAppend(&text, WrappedText(note.text(), "note: ", "      "));
  }
  return text;
}

}  // namespace

std::string WrappedText(const std::string& text,
                        const std::string& first,
                        const std::string& later) {
  constexpr std::size_t kWidth = 80;
  std::string lines;
  std::string line = first;
  bool is_empty = true;
  for (const absl::string_view word : absl::StrSplit(text, ' ')) {
    if (!is_empty && line.size() + 1 + word.size() > kWidth) {
      absl::StrAppend(&lines, line, "\n");
      line = later;
      is_empty = true;
    }
    absl::StrAppend(&line, is_empty ? "" : " ", word);
    is_empty = false;
  }
  return absl::StrCat(lines, line, "\n");
}

std::string TrialTable(const v1::ListTrialsResponse& trials) {
  Table table({"trial", "kind", "robot", ">logs", "title"});
  for (const v1::Trial& trial : trials.trials()) {
    table.AddRow({trial.name(),
                  KindText(trial.kind()),
                  trial.robot(),
                  absl::StrCat(trial.groups_size()),
                  ShortTitle(trial.title(), 16)});
  }
  return table.ToText();
}

std::string TrialText(const v1::Trial& trial) {
  std::string text;
  AddLine("trial", trial.name(), &text);
  AddLine("kind", KindText(trial.kind()), &text);
  if (!trial.title().empty()) {
    AddLine("title", trial.title(), &text);
  }
  if (!trial.gait().empty()) {
    AddLine("gait", trial.gait(), &text);
  }
  AddLine("robot", trial.robot(), &text);
  AddLine("surface", trial.surface(), &text);
  if (trial.stride_frequency_hz() > 0.0) {
    AddLine("frequency", Hertz(trial.stride_frequency_hz()), &text);
  }
  if (trial.has_measure_time()) {
    AddLine("measured", ShortTime(trial.measure_time()), &text);
  }
  if (trial.is_invented()) {
    AddLine("data", "invented: nobody measured this", &text);
  }
  for (const v1::TrialGroup& group : trial.groups()) {
    absl::StrAppendFormat(
        &text,
        "\nlog %s, clock %s, %d rows%s\n",
        group.name(),
        ClockText(group.clock()),
        group.row_count(),
        group.sample_rate_hz() > 0.0 ? absl::StrCat(", ", Hertz(group.sample_rate_hz())) : "");
    for (const v1::TrialColumn& column : group.columns()) {
      absl::StrAppend(&text, "  ", column.label(), "\n");
    }
  }
  return text;
}

std::string AnalysisText(const v1::TrialAnalysis& analysis) {
  std::string text;
  AddLine("trial", analysis.trial(), &text);
  AddLine("cycles",
          absl::StrCat(analysis.cycle_start_s_size(),
                       analysis.cycle_start_s().empty()
                           ? ""
                           : absl::StrCat(", by ",
                                          EnumText(v1::CycleSource_Name(analysis.cycle_source()),
                                                   "CYCLE_SOURCE_"))),
          &text);
  AddLine("delay", DelayText(analysis.delay()), &text);
  AddLine("frequency", FigureText(analysis.stride_frequency_hz(), "Hz"), &text);
  AddLine("stride", FigureText(analysis.stride_m(), "m"), &text);
  AddLine("drift", FigureText(analysis.drift_m(), "m"), &text);
  AddLine("turn", FigureText(analysis.turn_rad(), "rad"), &text);
  AddLine("speed", FigureText(analysis.speed_m_per_s(), "m/s"), &text);
  if (analysis.peak_voltage_v() > 0.0) {
    AddLine("peak voltage", absl::StrCat(Fixed(analysis.peak_voltage_v(), 1), " V"), &text);
  }
  if (analysis.has_cost()) {
    const v1::TransportCost& cost = analysis.cost();
    AddLine("cost of transport",
            absl::StrFormat("%.3g, uncertainty %.2g", cost.cost_ratio(), cost.uncertainty_ratio()),
            &text);
    AddLine("  power",
            absl::StrFormat("%.3g mW, %s", 1e3 * cost.power_w(), PowerText(cost.power_kind())),
            &text);
  }
  absl::StrAppend(&text, "\n", FootTable(analysis));
  if (const std::string legs = LegTable(analysis); !legs.empty()) {
    absl::StrAppend(&text, "\n", legs);
  }
  return absl::StrCat(text, analysis.notes().empty() ? "" : "\n", NotesText(analysis));
}

std::string ComparisonText(const v1::TrialComparison& comparison) {
  std::string text;
  AddLine("trial", comparison.analysis().trial(), &text);
  AddLine("gait", comparison.gait(), &text);
  Table table({"figure", "unit", ">measured", ">spread", ">plan", ">replay", ">hand"});
  for (const v1::ComparedFigure& figure : comparison.figures()) {
    const Shown shown = ShownUnit(figure.unit());
    const auto cell = [&](bool is_there, double value) {
      return is_there ? Fixed(shown.factor * value, shown.decimals) : std::string("-");
    };
    table.AddRow({absl::StrReplaceAll(figure.figure(), {{" per cycle", ""}}),
                  shown.unit,
                  cell(figure.has_measured_si(), figure.measured_si()),
                  cell(figure.has_deviation_si(), figure.deviation_si()),
                  cell(figure.has_planned_si(), figure.planned_si()),
                  cell(figure.has_replayed_si(), figure.replayed_si()),
                  cell(figure.has_hand_tuned_si(), figure.hand_tuned_si())});
  }
  absl::StrAppend(&text, "\n", table.ToText(), "hand: the hand-tuned gait in its replay\n");
  if (!comparison.differences().empty()) {
    absl::StrAppend(&text, "\nwhat differs most\n");
  }
  int rank = 0;
  for (const v1::TrialDifference& difference : comparison.differences()) {
    absl::StrAppend(&text,
                    WrappedText(difference.text(), absl::StrFormat("%3d. ", ++rank), "     "));
  }
  if (comparison.has_stride_difference_m()) {
    absl::StrAppendFormat(&text,
                          "\nstride less planned: %.3f mm, of which unexplained %.3f mm\n",
                          1e3 * comparison.stride_difference_m(),
                          1e3 * comparison.unexplained_m());
  }
  const std::string notes = NotesText(comparison.analysis());
  return absl::StrCat(text, notes.empty() ? "" : "\n", notes);
}

}  // namespace gaitshelf::client
