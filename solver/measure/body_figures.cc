#include "solver/measure/body_figures.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numbers>

#include "solver/base/constants.h"
#include "solver/measure/statistics.h"

namespace gaitshelf::solver {
namespace {

// Samples of yaw over a cycle, for its mean.
constexpr int kYawSamples = 32;

double PlannedYaw(const PlannedCycle& plan) {
  if (plan.model().base_count() == 0) {
    return 0.0;
  }
  double sum = 0.0;
  for (int k = 0; k < kYawSamples; ++k) {
    sum += plan.Position(static_cast<double>(k) / kYawSamples)[5];
  }
  return sum / kYawSamples;
}

// Mean yaw over a cycle; it may turn past pi.
double MeanYaw(double start_s, double end_s, Reading* yaw) {
  const double first = yaw->At(start_s);
  double sum = 0.0;
  for (int k = 0; k < kYawSamples; ++k) {
    const double value = yaw->At(start_s + (end_s - start_s) * k / kYawSamples);
    sum += std::remainder(value - first, 2.0 * std::numbers::pi);
  }
  return first + sum / kYawSamples;
}

std::vector<double> Headings(const TrialView& view, const Cycles& cycles, bool* is_measured) {
  std::vector<double> headings(cycles.size(), 0.0);
  Reading yaw = view.Read({.quantity = v1::TRIAL_QUANTITY_BODY_ATTITUDE, .axis = 2},
                          v1::TRIAL_CLOCK_TRACKING);
  Reading x = view.Read({.quantity = v1::TRIAL_QUANTITY_BODY_POSITION}, v1::TRIAL_CLOCK_TRACKING);
  Reading y = view.Read({.quantity = v1::TRIAL_QUANTITY_BODY_POSITION, .axis = 1},
                        v1::TRIAL_CLOCK_TRACKING);
  *is_measured = static_cast<bool>(yaw);
  if (yaw) {
    const double planned = PlannedYaw(view.plan);
    for (std::size_t i = 0; i < cycles.size(); ++i) {
      headings[i] = MeanYaw(cycles.start_s[i], cycles.end_s[i], &yaw) - planned;
    }
  } else if (x && y) {
    double along_x = 0.0, along_y = 0.0;
    for (std::size_t i = 0; i < cycles.size(); ++i) {
      const double dx = x.At(cycles.end_s[i]) - x.At(cycles.start_s[i]);
      const double dy = y.At(cycles.end_s[i]) - y.At(cycles.start_s[i]);
      if (std::isfinite(dx) && std::isfinite(dy)) {
        along_x += dx;
        along_y += dy;
      }
    }
    const double sign = view.plan.advance_m() < 0.0 ? -1.0 : 1.0;
    std::fill(headings.begin(), headings.end(), std::atan2(sign * along_y, sign * along_x));
  }
  return headings;
}

std::vector<double> Quotients(const std::vector<double>& values, const Cycles& cycles) {
  std::vector<double> quotients(values.size());
  for (std::size_t i = 0; i < values.size(); ++i) {
    quotients[i] = values[i] / (cycles.end_s[i] - cycles.start_s[i]);
  }
  return quotients;
}

void Set(const std::vector<double>& values,
         v1::MeasuredFigure* (v1::TrialAnalysis::*field)(),
         v1::TrialAnalysis* analysis) {
  const v1::MeasuredFigure figure = Summarize(values);
  if (figure.count() > 0) {
    *(analysis->*field)() = figure;
  }
}

}  // namespace

BodyFigures MeasureBody(const TrialView& view, const Cycles& cycles) {
  BodyFigures body;
  body.heading_rad = Headings(view, cycles, &body.is_heading_measured);
  const auto read = [&](v1::TrialQuantity quantity, int axis) {
    return view.Read({.quantity = quantity, .axis = axis}, v1::TRIAL_CLOCK_TRACKING);
  };
  Reading x = read(v1::TRIAL_QUANTITY_BODY_POSITION, 0);
  Reading y = read(v1::TRIAL_QUANTITY_BODY_POSITION, 1);
  Reading yaw = read(v1::TRIAL_QUANTITY_BODY_ATTITUDE, 2);
  for (std::size_t i = 0; i < cycles.size(); ++i) {
    const double start_s = cycles.start_s[i], end_s = cycles.end_s[i];
    const double dx = x.At(end_s) - x.At(start_s);
    const double dy = y.At(end_s) - y.At(start_s);
    const double c = std::cos(body.heading_rad[i]), s = std::sin(body.heading_rad[i]);
    // Without y, x is the only direction there is.
    body.along_m.push_back(y ? c * dx + s * dy : dx);
    body.across_m.push_back(y ? c * dy - s * dx : kNan);
    body.turn_rad.push_back(
        std::remainder(yaw.At(end_s) - yaw.At(start_s), 2.0 * std::numbers::pi));
  }
  return body;
}

void AddBodyFigures(const TrialView& view,
                    const Cycles& cycles,
                    const BodyFigures& body,
                    v1::TrialAnalysis* analysis) {
  Set(Quotients(std::vector<double>(cycles.size(), 1.0), cycles),
      &v1::TrialAnalysis::mutable_stride_frequency_hz,
      analysis);
  Set(body.along_m, &v1::TrialAnalysis::mutable_stride_m, analysis);
  Set(Quotients(body.along_m, cycles), &v1::TrialAnalysis::mutable_speed_m_per_s, analysis);
  Set(body.turn_rad, &v1::TrialAnalysis::mutable_turn_rad, analysis);
  Set(body.across_m, &v1::TrialAnalysis::mutable_drift_m, analysis);
  if (analysis->stride_m().count() == 0) {
    AddNote("stride_m", "the position of the body was not measured over a whole cycle", analysis);
    return;
  }
  for (const double along_m : body.along_m) {
    if (std::isfinite(along_m)) {
      analysis->add_cycle_stride_m(along_m);
    }
  }
  if (!view.Read({.quantity = v1::TRIAL_QUANTITY_BODY_POSITION, .axis = 1})) {
    AddNote("drift_m", "\"body y\" was not measured: the stride is that along x", analysis);
  } else if (!body.is_heading_measured) {
    AddNote("stride_m",
            "\"body yaw\" was not measured: the heading is the direction of the whole way, and the "
            "drift is about it",
            analysis);
  }
}

}  // namespace gaitshelf::solver
