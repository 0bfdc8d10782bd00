#include "solver/calibrate/leg_report.h"

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <string>
#include <utility>
#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "solver/calibrate/estimate.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

// Samples in a row that say the same, beyond which what is left over is no noise.
constexpr double kLongRun = 10.0;

class LegReporter {
 public:
  LegReporter(const LegFit& fit, v1::Calibration* calibration)
      : fit_(fit), calibration_(*calibration) {}

  void Add(Index unknown, const EstimateSubject& subject) {
    v1::CalibrationEstimate estimate =
        MakeEstimate(subject,
                     {.log = fit_.estimate[unknown],
                      .log_deviation = std::sqrt(fit_.covariance(unknown, unknown)),
                      .prior_deviation = fit_.prior[unknown]});
    estimate.set_reason(ReasonOf(estimate));
    names_[static_cast<std::size_t>(unknown)] = estimate.parameter();
    told_[unknown] = estimate.is_told() ? fit_.estimate[unknown] : 0.0;
    *calibration_.add_estimates() = std::move(estimate);
  }
  const VectorXd& told() const { return told_; }
  const std::vector<std::string>& names() const { return names_; }

 private:
  static std::string ReasonOf(const v1::CalibrationEstimate& estimate) {
    if (estimate.is_told()) {
      return "by bench tests of the leg";
    }
    return estimate.quantity() == v1::CALIBRATION_QUANTITY_MASS
               ? "what rings tells stiffness over mass; a test with an added mass or an applied "
                 "force would tell it"
               : "no bench test of the leg moves with it; it stays as described";
  }

  const LegFit& fit_;
  v1::Calibration& calibration_;
  VectorXd told_ = VectorXd::Zero(LegUnknown::kCount);
  std::vector<std::string> names_ = std::vector<std::string>(LegUnknown::kCount);
};

void AddFit(const std::string& leg, const ChannelFit& channel, v1::Calibration* calibration) {
  v1::CalibrationFit* line = calibration->add_fits();
  line->set_trial(channel.trial);
  line->set_channel(absl::StrCat(leg, channel.axis == 0 ? " lift" : " swing"));
  line->set_value_count(static_cast<std::int64_t>(channel.noise.count));
  line->set_residual_si(channel.noise.deviation);
  line->set_signal_si(channel.signal_m);
  line->set_unit("m");
  if (channel.noise.run_length > kLongRun) {
    v1::AnalysisNote* note = calibration->add_notes();
    note->set_subject(line->channel());
    note->set_text(
        absl::StrFormat("%s: what is left over in trial %s is no noise but goes on for %.0f "
                        "samples: the linear leg "
                        "explains it in part only, and uncertainties count for it",
                        line->channel(),
                        channel.trial,
                        channel.noise.run_length));
  }
}

Index UnknownOf(const EstimateSubject& subject) {
  switch (subject.quantity) {
    case v1::CALIBRATION_QUANTITY_STIFFNESS:
      return LegUnknown::kStiffness + subject.axis;
    case v1::CALIBRATION_QUANTITY_DAMPING:
      return LegUnknown::kDamping + subject.axis;
    case v1::CALIBRATION_QUANTITY_GAIN:
      return LegUnknown::kGain + subject.axis;
    default:
      return LegUnknown::kMass;
  }
}

}  // namespace

std::vector<EstimateSubject> LegSubjects(const v1::Leg& leg, const LinearLeg& linear) {
  std::vector<EstimateSubject> subjects;
  const auto add = [&](v1::CalibrationQuantity quantity, int axis, double described_si) {
    subjects.push_back(
        {.quantity = quantity, .leg = leg.name(), .axis = axis, .described_si = described_si});
  };
  for (int axis = 0; axis < 2; ++axis) {
    const auto i = static_cast<std::size_t>(axis);
    add(v1::CALIBRATION_QUANTITY_STIFFNESS, axis, linear.stiffness[i](axis, axis));
    if (linear.damping[i](axis, axis) > 0.0) {
      add(v1::CALIBRATION_QUANTITY_DAMPING, axis, linear.damping[i](axis, axis));
    }
    if (linear.has_drive[i]) {
      add(v1::CALIBRATION_QUANTITY_GAIN, axis, std::abs(linear.gain(axis, axis)));
    }
  }
  add(v1::CALIBRATION_QUANTITY_MASS, 0, 1.0);
  return subjects;
}

VectorXd ReportLeg(const v1::Leg& leg,
                   const LinearLeg& linear,
                   const LegFit& fit,
                   v1::Calibration* calibration) {
  LegReporter reporter(fit, calibration);
  for (const EstimateSubject& subject : LegSubjects(leg, linear)) {
    reporter.Add(UnknownOf(subject), subject);
  }
  AddCorrelations(reporter.names(), fit.covariance, calibration);
  for (const ChannelFit& channel : fit.channels) {
    AddFit(leg.name(), channel, calibration);
  }
  return reporter.told();
}

}  // namespace gaitshelf::solver
