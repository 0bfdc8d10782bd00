#include "solver/calibrate/gait_report.h"

#include <cmath>
#include <cstddef>
#include <utility>
#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "solver/calibrate/estimate.h"
#include "solver/calibrate/noise.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

// Left over this many times what noise and roughness let expect, the model misses something.
constexpr double kNotableBirgeRatio = 1.5;

// Puts an estimate in the place of one of the same parameter, or at the end.
void Put(v1::CalibrationEstimate estimate, v1::Calibration* calibration) {
  for (v1::CalibrationEstimate& earlier : *calibration->mutable_estimates()) {
    if (earlier.parameter() == estimate.parameter()) {
      if (estimate.is_told()) {
        earlier = std::move(estimate);
      }
      return;
    }
  }
  *calibration->add_estimates() = std::move(estimate);
}

void AddNotes(const GaitFit& fit, v1::Calibration* calibration) {
  const auto note = [calibration](const std::string& text) {
    v1::AnalysisNote* added = calibration->add_notes();
    added->set_subject("gaits");
    added->set_text(text);
  };
  if (fit.birge_ratio > kNotableBirgeRatio) {
    note(absl::StrFormat(
        "replays differ from the trials %.1f times more than noise explains: what the description "
        "leaves out is at work, and uncertainties were raised by that",
        fit.birge_ratio));
  }
  if (fit.fallen_count > 0) {
    note(absl::StrFormat("%d of %d robots that were tried fell and did not count",
                         fit.fallen_count,
                         fit.replay_count));
  }
}

}  // namespace

std::map<std::string, double> ToldSoFar(const v1::Calibration& calibration) {
  std::map<std::string, double> told;
  for (const v1::CalibrationEstimate& estimate : calibration.estimates()) {
    if (estimate.is_told()) {
      told[estimate.parameter()] = estimate.uncertainty_si() / std::abs(estimate.estimate_si());
    }
  }
  return told;
}

VectorXd ReportGaits(const GaitUnknowns& unknowns,
                     const GaitFit& fit,
                     v1::Calibration* calibration) {
  VectorXd taken = VectorXd::Zero(unknowns.count());
  bool is_any_told = false;
  std::vector<std::string> names(static_cast<std::size_t>(unknowns.count()));
  for (Index i = 0; i < unknowns.count(); ++i) {
    if (unknowns.is_told(i)) {
      continue;
    }
    v1::CalibrationEstimate estimate =
        MakeEstimate(unknowns.subject(i),
                     {.log = fit.estimate[i],
                      .log_deviation = std::sqrt(fit.covariance(i, i)),
                      .prior_deviation = unknowns.prior()[i],
                      .half_width = StudentHalfWidth(fit.degrees_of_freedom)});
    estimate.set_reason(estimate.is_told()
                            ? "by trials of gaits, compared with replays"
                            : "gaits hardly tell it by itself; it moves with what they tell");
    taken[i] = fit.estimate[i];
    is_any_told = is_any_told || estimate.is_told();
    names[static_cast<std::size_t>(i)] = estimate.parameter();
    Put(std::move(estimate), calibration);
  }
  AddCorrelations(names, fit.covariance, calibration);
  for (const GaitChannelFit& channel : fit.channels) {
    v1::CalibrationFit* line = calibration->add_fits();
    line->set_trial(channel.trial);
    line->set_channel(channel.channel);
    line->set_value_count(channel.cycle_count);
    line->set_residual_si(channel.residual_si);
    line->set_signal_si(channel.signal_si);
    line->set_unit(channel.unit);
  }
  AddNotes(fit, calibration);
  return is_any_told ? taken : VectorXd::Zero(unknowns.count());
}

}  // namespace gaitshelf::solver
