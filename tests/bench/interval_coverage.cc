#include "tests/bench/interval_coverage.h"

#include <cmath>
#include <cstddef>

#include "absl/strings/str_format.h"
#include "tests/bench/quantile.h"

namespace gaitshelf::bench {
namespace {

// The hidden value of an estimate.
double Truth(const v1::CalibrationEstimate& estimate,
             const v1::Robot& described,
             const test::HiddenRobot& hidden) {
  if (estimate.quantity() == v1::CALIBRATION_QUANTITY_FRICTION) {
    return hidden.surface.friction_coefficient();
  }
  std::size_t leg = 0;
  for (int i = 0; i < described.legs_size(); ++i) {
    if (described.legs(i).name() == estimate.leg()) {
      leg = static_cast<std::size_t>(i);
    }
  }
  const solver::LegFactors& factors = hidden.factors[leg];
  const auto axis = static_cast<std::size_t>(estimate.axis());
  switch (estimate.quantity()) {
    case v1::CALIBRATION_QUANTITY_STIFFNESS:
      return estimate.described_si() * factors.stiffness[axis];
    case v1::CALIBRATION_QUANTITY_DAMPING:
      return estimate.described_si() * factors.damping[axis];
    case v1::CALIBRATION_QUANTITY_GAIN:
      return estimate.described_si() * factors.gain[axis];
    default:
      return estimate.described_si() * factors.mass;
  }
}

}  // namespace

void IntervalCoverage::Add(const v1::Calibration& calibration,
                           const v1::Robot& described,
                           const test::HiddenRobot& hidden) {
  for (const v1::CalibrationEstimate& estimate : calibration.estimates()) {
    const std::string name =
        v1::CalibrationQuantity_Name(estimate.quantity()).substr(sizeof("CALIBRATION_QUANTITY"));
    Kind& kind = kinds_[name];
    if (!estimate.is_told()) {
      ++kind.untold;
      continue;
    }
    const double truth = Truth(estimate, described, hidden);
    kind.held += estimate.lower_si() <= truth && truth <= estimate.upper_si() ? 1 : 0;
    ++kind.count;
    kind.error_ratio.push_back(std::abs(estimate.estimate_si() / truth - 1.0));
  }
}

IntervalCoverage::Kind IntervalCoverage::All() const {
  Kind all;
  for (const auto& [name, kind] : kinds_) {
    all.held += kind.held;
    all.count += kind.count;
  }
  return all;
}

std::string IntervalCoverage::Text() const {
  std::string text;
  for (const auto& [name, kind] : kinds_) {
    absl::StrAppendFormat(
        &text,
        "%-24s %4d of %4d intervals hold (%.1f %%), %4d not told; median error %.2f %%\n",
        name,
        kind.held,
        kind.count,
        100.0 * kind.Share(),
        kind.untold,
        100.0 * Quantile(kind.error_ratio, 0.5));
  }
  const Kind all = All();
  absl::StrAppendFormat(
      &text, "all: %d of %d intervals hold (%.1f %%)\n", all.held, all.count, 100.0 * all.Share());
  return text;
}

void IntervalCoverage::Set(Json* report) const {
  Json by_kind = Json::Object();
  for (const auto& [name, kind] : kinds_) {
    by_kind.Set(name,
                Json::Object()
                    .Set("held", kind.held)
                    .Set("count", kind.count)
                    .Set("untold", kind.untold)
                    .Set("median_error_ratio", Quantile(kind.error_ratio, 0.5)));
  }
  report->Set("coverage", by_kind).Set("coverage_ratio", All().Share());
}

}  // namespace gaitshelf::bench
