#include "tests/bench/replanned_strides.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "tests/bench/quantile.h"

namespace gaitshelf::bench {
namespace {

bool Walks(double stride_m) { return stride_m > 0.0; }

std::string StrideText(double stride_m) {
  return Walks(stride_m) ? absl::StrFormat("%.2f mm", 1e3 * stride_m) : "falls";
}

double GainRatio(const Strides& strides) { return strides.new_m / strides.first_m - 1.0; }

double OffRatio(double stride_m, double asked_m) { return std::abs(stride_m / asked_m - 1.0); }

void AddOff(const std::vector<Strides>& strides, ReplannedFigures* figures) {
  std::vector<double> first;
  std::vector<double> anew;
  for (const Strides& one : strides) {
    first.push_back(OffRatio(one.first_m, figures->asked_m));
    anew.push_back(OffRatio(one.new_m, figures->asked_m));
    figures->nearer_count += anew.back() < first.back() ? 1 : 0;
  }
  figures->first_median_off_ratio = Quantile(first, 0.5);
  figures->new_median_off_ratio = Quantile(anew, 0.5);
}

}  // namespace

ReplannedFigures FiguresOf(const std::vector<Strides>& strides, double asked_m) {
  ReplannedFigures figures{.robot_count = static_cast<int>(strides.size()), .asked_m = asked_m};
  std::vector<double> gains;
  for (const Strides& one : strides) {
    figures.first_fell_count += Walks(one.first_m) ? 0 : 1;
    figures.new_fell_count += Walks(one.new_m) ? 0 : 1;
    figures.further_count += one.new_m > one.first_m ? 1 : 0;
    if (Walks(one.first_m)) {
      gains.push_back(GainRatio(one));
    }
  }
  constexpr double kNone = std::numeric_limits<double>::quiet_NaN();
  figures.median_gain_ratio = gains.empty() ? kNone : Quantile(gains, 0.5);
  figures.lower_quartile_gain_ratio = gains.empty() ? kNone : Quantile(gains, 0.25);
  figures.upper_quartile_gain_ratio = gains.empty() ? kNone : Quantile(gains, 0.75);
  if (asked_m > 0.0) {
    AddOff(strides, &figures);
  }
  return figures;
}

std::string StridesText(const Strides& strides) {
  std::string text =
      absl::StrCat("first ", StrideText(strides.first_m), ", new ", StrideText(strides.new_m));
  if (Walks(strides.first_m) && Walks(strides.new_m)) {
    absl::StrAppendFormat(&text, ", %+.1f %%", 100.0 * GainRatio(strides));
  }
  return text;
}

std::string FiguresText(const ReplannedFigures& figures) {
  std::string text =
      absl::StrFormat("walked on %d hidden robots: %d first gaits fall, %d new ones\n",
                      figures.robot_count,
                      figures.first_fell_count,
                      figures.new_fell_count);
  if (figures.asked_m > 0.0) {
    absl::StrAppendFormat(&text,
                          "stride off the asked %.2f mm: first %.2f %%, new %.2f %% in the median, "
                          "%d of %d come nearer\n",
                          1e3 * figures.asked_m,
                          100.0 * figures.first_median_off_ratio,
                          100.0 * figures.new_median_off_ratio,
                          figures.nearer_count,
                          figures.robot_count);
  }
  absl::StrAppendFormat(&text,
                        "stride of the new gait over the first where that walks: median %+.2f %%, "
                        "quartiles %+.2f and %+.2f %%; %d of %d walk further\n",
                        100.0 * figures.median_gain_ratio,
                        100.0 * figures.lower_quartile_gain_ratio,
                        100.0 * figures.upper_quartile_gain_ratio,
                        figures.further_count,
                        figures.robot_count);
  return text;
}

void SetFigures(const ReplannedFigures& figures,
                const std::vector<Strides>& strides,
                Json* report) {
  report->Set("first_fell_count", figures.first_fell_count)
      .Set("new_fell_count", figures.new_fell_count)
      .Set("further_count", figures.further_count)
      .Set("median_gain_ratio", figures.median_gain_ratio)
      .Set("lower_quartile_gain_ratio", figures.lower_quartile_gain_ratio)
      .Set("upper_quartile_gain_ratio", figures.upper_quartile_gain_ratio);
  if (figures.asked_m > 0.0) {
    report->Set("asked_m", figures.asked_m)
        .Set("first_median_off_ratio", figures.first_median_off_ratio)
        .Set("new_median_off_ratio", figures.new_median_off_ratio)
        .Set("nearer_count", figures.nearer_count);
  }
  Json walks = Json::List();
  for (const Strides& one : strides) {
    walks.Add(Json::Object().Set("first_m", one.first_m).Set("new_m", one.new_m));
  }
  report->Set("strides", walks);
}

}  // namespace gaitshelf::bench
