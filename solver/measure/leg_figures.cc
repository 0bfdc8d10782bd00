#include "solver/measure/leg_figures.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <cstddef>
#include <numbers>
#include <optional>

namespace gaitshelf::solver {
namespace {

using Eigen::Index;

// A planned first harmonic below this share of a metre does not move: 10 nm. Gain and lag against
// it mean nothing.
constexpr double kLeastAmplitudeM = 1e-8;

// Sums for a mean and a first harmonic; the mean does not leak into the harmonic when samples do
// not fill the cycle evenly.
class Harmonic {
 public:
  void Add(double value, std::complex<double> turn) {
    sum_ += value;
    turned_ += value * turn;
  }
  std::complex<double> Amplitude(double count, std::complex<double> turns) const {
    return (turned_ - sum_ / count * turns) * (2.0 / count);
  }

 private:
  double sum_ = 0.0;
  std::complex<double> turned_ = 0.0;
};

std::optional<v1::TrackingError> CompareCoordinate(const TrialView& view,
                                                   const Cycles& cycles,
                                                   Index coordinate) {
  const Reading reading = view.Read({.quantity = v1::TRIAL_QUANTITY_LEG_POSITION,
                                     .part = view.gait.leg_names(static_cast<int>(coordinate / 2)),
                                     .axis = static_cast<int>(coordinate % 2)},
                                    v1::TRIAL_CLOCK_ON_BOARD);
  Harmonic measured, planned;
  std::complex<double> turns = 0.0;
  double count = 0.0, sum = 0.0, squares = 0.0, peak = 0.0, length_s = 0.0;
  std::size_t cycle = 0;
  for (std::size_t row = 0; row < reading.row_count(); ++row) {
    const double time_s = reading.TimeOf(row);
    while (cycle < cycles.size() && cycles.end_s[cycle] <= time_s) {
      ++cycle;
    }
    if (cycle == cycles.size()) {
      break;
    }
    const double value = (*reading.channel().values)[row];
    if (time_s < cycles.start_s[cycle] || std::isnan(value)) {
      continue;
    }
    const double period_s = cycles.end_s[cycle] - cycles.start_s[cycle];
    const double phase = (time_s - cycles.start_s[cycle]) / period_s;
    const double target = view.plan.LegPosition(coordinate, phase);
    const std::complex<double> turn = std::polar(1.0, -2.0 * std::numbers::pi * phase);
    measured.Add(value, turn);
    planned.Add(target, turn);
    turns += turn;
    const double error = value - target;
    count += 1.0;
    sum += error;
    squares += error * error;
    peak = std::max(peak, std::abs(error));
    length_s += period_s;
  }
  if (count == 0.0) {
    return std::nullopt;
  }
  v1::TrackingError tracking;
  tracking.set_rms_m(std::sqrt(squares / count));
  tracking.set_peak_m(peak);
  tracking.set_bias_m(sum / count);
  const std::complex<double> target = planned.Amplitude(count, turns);
  if (std::abs(target) > kLeastAmplitudeM) {
    const std::complex<double> ratio = measured.Amplitude(count, turns) / target;
    tracking.set_gain_ratio(std::abs(ratio));
    tracking.set_lag_s(-std::arg(ratio) / (2.0 * std::numbers::pi) * length_s / count);
  }
  return tracking;
}

}  // namespace

void AddLegFigures(const TrialView& view, const Cycles& cycles, v1::TrialAnalysis* analysis) {
  bool is_any_measured = false;
  for (int i = 0; i < view.gait.leg_names_size(); ++i) {
    v1::LegAnalysis* leg = analysis->add_legs();
    leg->set_leg(view.gait.leg_names(i));
    for (int axis = 0; axis < 2 && cycles.is_phase_known; ++axis) {
      const std::optional<v1::TrackingError> error = CompareCoordinate(view, cycles, 2 * i + axis);
      if (error.has_value()) {
        *(axis == 0 ? leg->mutable_lift() : leg->mutable_swing()) = *error;
        is_any_measured = true;
      }
    }
  }
  if (!is_any_measured && cycles.size() > 0) {
    AddNote("legs",
            cycles.is_phase_known
                ? "no leg was measured"
                : "it is not known when the plan's cycle begins, so legs cannot be held against it",
            analysis);
  }
}

}  // namespace gaitshelf::solver
