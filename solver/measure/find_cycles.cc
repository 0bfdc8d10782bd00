#include "solver/measure/find_cycles.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <cstddef>
#include <numbers>
#include <string>

#include "solver/base/constants.h"
#include "solver/measure/statistics.h"

namespace gaitshelf::solver {
namespace {

// Cycles off the commanded length by more than this do not count (own choice).
constexpr double kOddRatio = 0.25;

// Times at which the logged phase passes a whole number.
std::vector<double> PhaseStarts(const Reading& phase) {
  std::vector<double> starts;
  double last = kNan;
  double last_s = 0.0;
  for (std::size_t row = 0; row < phase.row_count(); ++row) {
    const double value = (*phase.channel().values)[row];
    if (std::isnan(value)) {
      continue;
    }
    const double time_s = phase.TimeOf(row);
    const bool begins =
        value >= 0.0 && value < 0.5 && (last > 0.5 || (value == 0.0 && !(last >= 0.0)));
    if (begins) {
      const double rise = value - last + 1.0;
      const bool is_wrap = last > 0.5 && rise > 0.0;
      starts.push_back(is_wrap ? last_s + (time_s - last_s) * (1.0 - last) / rise : time_s);
    }
    last = value;
    last_s = time_s;
  }
  return starts;
}

// Times of phase 0 by touchdowns of the first foot that has both in the log and in the plan.
std::vector<double> ContactStarts(const TrialView& view, const std::vector<Stances>& feet) {
  const double period_s = 1.0 / view.table.trial().stride_frequency_hz();
  for (std::size_t foot = 0; foot < feet.size(); ++foot) {
    const double phase = view.plan.TouchdownPhase(static_cast<Eigen::Index>(foot));
    if (!std::isfinite(phase) || feet[foot].list.size() < 3) {
      continue;
    }
    std::vector<double> starts;
    for (const Stance& stance : feet[foot].list) {
      if (stance.has_touchdown) {
        starts.push_back(stance.begin_s - phase * period_s);
      }
    }
    return starts;
  }
  return {};
}

// Cuts a record evenly from the first time of phase 0 on.
std::vector<double> EvenStarts(double first_s, double last_s, double period_s) {
  std::vector<double> starts;
  // By count, so that rounding does not add up; the last start may lie at the very end.
  for (int k = 0; first_s + k * period_s <= last_s + 1e-9; ++k) {
    starts.push_back(first_s + k * period_s);
  }
  return starts;
}

// Times of phase 0 by the first harmonic of the leg that moves most by plan.
std::vector<double> LegStarts(const TrialView& view) {
  const double period_s = 1.0 / view.table.trial().stride_frequency_hz();
  constexpr int kPhases = 64;
  std::complex<double> best = 0.0;
  Reading reading;
  for (Eigen::Index i = 0; i < 2 * view.plan.model().leg_count(); ++i) {
    std::complex<double> planned = 0.0;
    for (int k = 0; k < kPhases; ++k) {
      const double phase = static_cast<double>(k) / kPhases;
      planned += view.plan.LegPosition(i, phase) *
                 std::polar(1.0 / kPhases, -2.0 * std::numbers::pi * phase);
    }
    const Reading found = view.Read({.quantity = v1::TRIAL_QUANTITY_LEG_POSITION,
                                     .part = view.gait.leg_names(static_cast<int>(i / 2)),
                                     .axis = static_cast<int>(i % 2)},
                                    v1::TRIAL_CLOCK_ON_BOARD);
    if (found && std::abs(planned) > std::abs(best)) {
      best = planned;
      reading = found;
    }
  }
  if (!reading || best == 0.0) {
    return {};
  }
  std::complex<double> measured = 0.0;
  for (std::size_t row = 0; row < reading.row_count(); ++row) {
    const double value = (*reading.channel().values)[row];
    if (!std::isnan(value)) {
      const double turn = (reading.TimeOf(row) - reading.first_s()) / period_s;
      measured += value * std::polar(1.0, -2.0 * std::numbers::pi * turn);
    }
  }
  // measured ~ best exp(-2 pi i turn0), where turn0 is when phase 0 is passed.
  const double first_turn = WrapPhase(-std::arg(measured / best) / (2.0 * std::numbers::pi));
  return EvenStarts(reading.first_s() + first_turn * period_s, reading.last_s(), period_s);
}

std::vector<double> BodyStarts(const TrialView& view) {
  const Reading body = view.Read({.quantity = v1::TRIAL_QUANTITY_BODY_POSITION});
  if (!body) {
    return {};
  }
  return EvenStarts(body.first_s(), body.last_s(), 1.0 / view.table.trial().stride_frequency_hz());
}

Cycles CyclesBetween(const std::vector<double>& starts, double period_s, int left_out_count) {
  Cycles cycles;
  int left_out = 0;
  for (std::size_t i = 0; i + 1 < starts.size(); ++i) {
    if (std::abs(starts[i + 1] - starts[i] - period_s) > kOddRatio * period_s) {
      ++cycles.odd_count;
    } else if (left_out < left_out_count) {
      ++left_out;
    } else {
      cycles.start_s.push_back(starts[i]);
      cycles.end_s.push_back(starts[i + 1]);
    }
  }
  return cycles;
}

}  // namespace

Cycles FindCycles(const TrialView& view, const std::vector<Stances>& feet, int left_out_count) {
  const double frequency_hz = view.table.trial().stride_frequency_hz();
  if (!(frequency_hz > 0.0) || !view.plan.is_periodic()) {
    return {};
  }
  const Reading phase = view.Read({.quantity = v1::TRIAL_QUANTITY_PHASE}, v1::TRIAL_CLOCK_ON_BOARD);
  v1::CycleSource source = v1::CYCLE_SOURCE_PHASE;
  std::vector<double> starts = PhaseStarts(phase);
  if (!phase) {
    source = v1::CYCLE_SOURCE_CONTACT;
    starts = ContactStarts(view, feet);
    if (starts.size() < 2) {
      source = v1::CYCLE_SOURCE_LEG;
      starts = LegStarts(view);
    }
    if (starts.size() < 2) {
      source = v1::CYCLE_SOURCE_BODY;
      starts = BodyStarts(view);
    }
  }
  Cycles cycles = CyclesBetween(starts, 1.0 / frequency_hz, left_out_count);
  cycles.source = cycles.size() > 0 ? source : v1::CYCLE_SOURCE_UNSPECIFIED;
  cycles.is_phase_known = source != v1::CYCLE_SOURCE_BODY;
  return cycles;
}

}  // namespace gaitshelf::solver
