#include "solver/calibrate/estimate.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "absl/strings/str_cat.h"

namespace gaitshelf::solver {
namespace {

constexpr double kHighCorrelation = 0.9;

std::string UnitOf(v1::CalibrationQuantity quantity) {
  switch (quantity) {
    case v1::CALIBRATION_QUANTITY_STIFFNESS:
      return "N/m";
    case v1::CALIBRATION_QUANTITY_DAMPING:
      return "N s/m";
    case v1::CALIBRATION_QUANTITY_GAIN:
      return "N/V";
    default:
      return "1";
  }
}

std::string WordOf(v1::CalibrationQuantity quantity) {
  switch (quantity) {
    case v1::CALIBRATION_QUANTITY_STIFFNESS:
      return "stiffness";
    case v1::CALIBRATION_QUANTITY_DAMPING:
      return "damping";
    case v1::CALIBRATION_QUANTITY_GAIN:
      return "gain";
    case v1::CALIBRATION_QUANTITY_MASS:
      return "mass";
    default:
      return "friction";
  }
}

}  // namespace

std::string ParameterName(const EstimateSubject& subject) {
  const std::string word = WordOf(subject.quantity);
  if (subject.quantity == v1::CALIBRATION_QUANTITY_FRICTION) {
    return word;
  }
  if (subject.quantity == v1::CALIBRATION_QUANTITY_MASS) {
    return absl::StrCat(subject.leg, " ", word);
  }
  return absl::StrCat(subject.leg, subject.axis == 0 ? " lift " : " swing ", word);
}

v1::CalibrationEstimate MakeEstimate(const EstimateSubject& subject, const FittedFactor& factor) {
  v1::CalibrationEstimate estimate;
  estimate.set_parameter(ParameterName(subject));
  estimate.set_quantity(subject.quantity);
  estimate.set_leg(subject.leg);
  estimate.set_axis(subject.axis);
  estimate.set_unit(UnitOf(subject.quantity));
  const double value = subject.described_si * std::exp(factor.log);
  const double half = factor.half_width * factor.log_deviation;
  estimate.set_described_si(subject.described_si);
  estimate.set_estimate_si(value);
  estimate.set_uncertainty_si(std::abs(value) * factor.log_deviation);
  const double ends[] = {value * std::exp(-half), value * std::exp(half)};
  estimate.set_lower_si(std::min(ends[0], ends[1]));
  estimate.set_upper_si(std::max(ends[0], ends[1]));
  const double left = std::min(1.0, factor.log_deviation / factor.prior_deviation);
  estimate.set_uncertainty_left_ratio(left);
  estimate.set_is_told(left <= kToldRatio);
  return estimate;
}

void AddCorrelations(const std::vector<std::string>& names,
                     const Eigen::MatrixXd& covariance,
                     v1::Calibration* calibration) {
  for (Eigen::Index i = 0; i < covariance.rows(); ++i) {
    for (Eigen::Index k = i + 1; k < covariance.cols(); ++k) {
      const std::string& a = names[static_cast<std::size_t>(i)];
      const std::string& b = names[static_cast<std::size_t>(k)];
      const double scale = std::sqrt(covariance(i, i) * covariance(k, k));
      if (a.empty() || b.empty() || !(scale > 0.0) ||
          std::abs(covariance(i, k)) <= kHighCorrelation * scale) {
        continue;
      }
      v1::CalibrationCorrelation* correlation = calibration->add_correlations();
      correlation->set_parameter_a(a);
      correlation->set_parameter_b(b);
      correlation->set_correlation_ratio(std::clamp(covariance(i, k) / scale, -1.0, 1.0));
    }
  }
}

}  // namespace gaitshelf::solver
