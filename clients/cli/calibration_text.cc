#include "clients/cli/calibration_text.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <set>
#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/strings/str_join.h"
#include "clients/cli/table.h"
#include "clients/cli/trial_text.h"

namespace gaitshelf::client {
namespace {

// Four digits tell as much as any of these numbers is known to.
std::string Number(double value) { return absl::StrFormat("%.4g", value); }

std::string EstimateTable(const v1::Calibration& calibration) {
  Table table({"number", "unit", ">described", ">found", ">95 % from", ">to"});
  for (const v1::CalibrationEstimate& estimate : calibration.estimates()) {
    if (estimate.is_told()) {
      table.AddRow({estimate.parameter(),
                    estimate.unit() == "1" ? "" : estimate.unit(),
                    Number(estimate.described_si()),
                    Number(estimate.estimate_si()),
                    Number(estimate.lower_si()),
                    Number(estimate.upper_si())});
    }
  }
  return table.empty() ? "the trials tell nothing better than the description does\n"
                       : table.ToText();
}

// Untold numbers by their reasons, which many share.
std::string UntoldText(const v1::Calibration& calibration) {
  std::string text;
  std::set<std::string> reasons;
  for (const v1::CalibrationEstimate& first : calibration.estimates()) {
    if (first.is_told() || !reasons.insert(first.reason()).second) {
      continue;
    }
    std::vector<std::string> names;
    for (const v1::CalibrationEstimate& estimate : calibration.estimates()) {
      if (!estimate.is_told() && estimate.reason() == first.reason()) {
        names.push_back(estimate.parameter());
      }
    }
    absl::StrAppend(
        &text,
        WrappedText(
            absl::StrCat(absl::StrJoin(names, ", "), ": ", first.reason()), "not told: ", "  "));
  }
  return text;
}

// Numbers that hang together, each group once: of seven numbers there are 21 pairs.
std::string CorrelationText(const v1::Calibration& calibration) {
  std::vector<std::vector<std::string>> groups;
  std::vector<double> least;  // the weakest correlation of each group
  const auto group_of = [&groups](const std::string& name) {
    return std::find_if(groups.begin(),
                        groups.end(),
                        [&name](const auto& group) {
                          return std::find(group.begin(), group.end(), name) != group.end();
                        }) -
           groups.begin();
  };
  for (const v1::CalibrationCorrelation& pair : calibration.correlations()) {
    const auto a = static_cast<std::size_t>(group_of(pair.parameter_a()));
    if (a == groups.size()) {
      groups.push_back({pair.parameter_a()});
      least.push_back(1.0);
    }
    const auto b = static_cast<std::size_t>(group_of(pair.parameter_b()));
    least[a] = std::min(least[a], std::abs(pair.correlation_ratio()));
    if (b == groups.size()) {
      groups[a].push_back(pair.parameter_b());
    } else if (a != b) {
      groups[a].insert(groups[a].end(), groups[b].begin(), groups[b].end());
      least[a] = std::min(least[a], least[b]);
      groups.erase(groups.begin() + static_cast<std::ptrdiff_t>(b));
      least.erase(least.begin() + static_cast<std::ptrdiff_t>(b));
    }
  }
  std::string text;
  for (std::size_t i = 0; i < groups.size(); ++i) {
    absl::StrAppend(&text,
                    WrappedText(absl::StrFormat("%s (correlated by %.2f and more)",
                                                absl::StrJoin(groups[i], ", "),
                                                least[i]),
                                "hard to tell apart: ",
                                "  "));
  }
  return text;
}

std::string FitTable(const v1::Calibration& calibration) {
  Table table({"trial", "compared", ">values", ">left over", ">signal", "unit"});
  for (const v1::CalibrationFit& fit : calibration.fits()) {
    table.AddRow({fit.trial().substr(0, 12),
                  fit.channel(),
                  absl::StrCat(fit.value_count()),
                  absl::StrFormat("%.2g", fit.residual_si()),
                  absl::StrFormat("%.2g", fit.signal_si()),
                  fit.unit() == "1" ? "" : fit.unit()});
  }
  return table.empty() ? "" : table.ToText();
}

// A stride in mm, and how far it is off what was asked.
std::string StrideText(double stride_m, const v1::ReplannedGait& gait) {
  if (stride_m == 0.0) {
    return "falls";
  }
  std::string text = Fixed(1e3 * stride_m, 2);
  if (gait.has_asked_m()) {
    absl::StrAppendFormat(&text, " (%+.1f %%)", 100.0 * (stride_m / gait.asked_m() - 1.0));
  }
  return text;
}

std::string GainText(const v1::ReplannedGait& gait) {
  if (!gait.has_after_m() || gait.before_m() == 0.0) {
    return "-";
  }
  return absl::StrFormat("%+.1f %%", 100.0 * (gait.after_m() / gait.before_m() - 1.0));
}

}  // namespace

std::string CalibrationTable(const v1::ListCalibrationsResponse& calibrations) {
  NamedTables tables({"calibration", "surface", ">trials", ">told"});
  for (const v1::Calibration& calibration : calibrations.calibrations()) {
    int told_count = 0;
    for (const v1::CalibrationEstimate& estimate : calibration.estimates()) {
      told_count += estimate.is_told() ? 1 : 0;
    }
    const std::string& robot = calibration.robot();
    // What 80 columns leave beside the others.
    constexpr std::size_t kSurfaceWidth = 26;
    tables.Of(robot.empty() ? "surfaces alone" : absl::StrCat("robot ", robot))
        .AddRow({calibration.name(),
                 calibration.surface().substr(0, kSurfaceWidth),
                 absl::StrCat(calibration.trials_size()),
                 absl::StrCat(told_count, " of ", calibration.estimates_size())});
  }
  constexpr std::size_t kNamedFrom = 1;
  return tables.ToText(kNamedFrom);
}

std::string CalibrationText(const v1::Calibration& calibration) {
  std::string text = absl::StrCat("calibration ", calibration.name(), "\n");
  absl::StrAppend(
      &text,
      calibration.robot().empty() ? "" : absl::StrCat("  robot ", calibration.robot()),
      calibration.surface().empty() ? "" : absl::StrCat("  surface ", calibration.surface()),
      calibration.is_invented() ? "  by invented trials" : "",
      "\n\n",
      EstimateTable(calibration),
      "\n");
  absl::StrAppend(
      &text, UntoldText(calibration), CorrelationText(calibration), FitTable(calibration));
  for (const v1::AnalysisNote& note : calibration.notes()) {
    absl::StrAppend(&text, WrappedText(note.text(), "note: ", "      "));
  }
  return text;
}

std::string AcceptedText(const v1::AcceptCalibrationResponse& accepted) {
  std::string text;
  if (accepted.has_robot()) {
    absl::StrAppendFormat(&text,
                          "robot %s: version %d is the current one\n",
                          accepted.robot().robot().name(),
                          accepted.robot().version());
  }
  if (accepted.has_surface()) {
    absl::StrAppendFormat(&text,
                          "surface %s: version %d is the current one\n",
                          accepted.surface().surface().name(),
                          accepted.surface().version());
  }
  return text.empty() ? "the calibration tells nothing that could become current\n" : text;
}

std::string ReplanText(const v1::ReplanReport& report) {
  Table table({"stride, mm", ">asked", ">measured", ">before", ">after", ">gain"});
  std::string text;
  for (const v1::ReplannedGait& gait : report.gaits()) {
    table.AddRow({gait.gait().substr(0, 12),
                  gait.has_asked_m() ? Fixed(1e3 * gait.asked_m(), 2) : "most",
                  gait.has_measured_m() ? Fixed(1e3 * gait.measured_m(), 2) : "-",
                  StrideText(gait.before_m(), gait),
                  gait.has_after_m() ? StrideText(gait.after_m(), gait) : "-",
                  GainText(gait)});
    absl::StrAppend(
        &text,
        gait.new_gait().empty()
            ? WrappedText(gait.trouble(), absl::StrCat("no new gait for ", gait.gait(), ": "), "  ")
            : absl::StrCat("new gait ", gait.new_gait(), "\n"));
  }
  return absl::StrCat(table.ToText(),
                      "before, after: the old and the new gait replayed on what was calibrated, "
                      "and\nhow far off what was asked. A trial of the new one says what the robot "
                      "does.\n",
                      text);
}

}  // namespace gaitshelf::client
