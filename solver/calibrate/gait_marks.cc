#include "solver/calibrate/gait_marks.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <memory>
#include <utility>

#include <Eigen/Cholesky>

#include "absl/strings/str_cat.h"
#include "solver/base/constants.h"
#include "solver/base/status_macros.h"
#include "solver/calibrate/noise.h"
#include "solver/measure/body_figures.h"
#include "solver/measure/check_trial.h"
#include "solver/measure/find_cycles.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// Harmonics that are fitted, so that they do not leak into those that count.
constexpr Index kFittedHarmonics = 3;
constexpr Index kFitted = 1 + 2 * kFittedHarmonics;
// Mean and two harmonics of a leg coordinate are marks; what lies higher is small and noisy.
constexpr Index kLegMarks = 5;
// Samples in a cycle for each coefficient that is fitted.
constexpr Index kLeastSamples = 2 * kFitted;

// Mean, cosines and sines of a channel over one cycle, by least squares over the samples in it, so
// that missing ones do not matter. `row` is where to begin to look; it moves on.
VectorXd FitHarmonics(const Reading& reading, double start_s, double end_s, std::size_t* row) {
  Eigen::Matrix<double, kFitted, kFitted> normal = Eigen::Matrix<double, kFitted, kFitted>::Zero();
  Eigen::Matrix<double, kFitted, 1> right = Eigen::Matrix<double, kFitted, 1>::Zero();
  Eigen::Matrix<double, kFitted, 1> basis;
  Index count = 0;
  const std::vector<double>& values = *reading.channel().values;
  while (*row < values.size() && reading.TimeOf(*row) < start_s) {
    ++*row;
  }
  for (; *row < values.size() && reading.TimeOf(*row) < end_s; ++*row) {
    const double value = values[*row];
    if (!std::isfinite(value)) {
      continue;
    }
    const double angle = 2.0 * kPi * (reading.TimeOf(*row) - start_s) / (end_s - start_s);
    basis[0] = 1.0;
    for (Index h = 1; h <= kFittedHarmonics; ++h) {
      basis[2 * h - 1] = std::cos(static_cast<double>(h) * angle);
      basis[2 * h] = std::sin(static_cast<double>(h) * angle);
    }
    normal += basis * basis.transpose();
    right += basis * value;
    ++count;
  }
  if (count < kLeastSamples) {
    return VectorXd::Constant(kLegMarks, kNan);
  }
  return normal.ldlt().solve(right).head(kLegMarks);
}

void AddChannel(const std::string& name,
                const std::string& unit,
                const MatrixXd& rows,
                GaitMarks* marks) {
  if (!rows.array().isFinite().any()) {
    return;
  }
  const Index first = marks->cycles.rows();
  marks->channels.push_back({.name = name, .unit = unit, .first = first, .count = rows.rows()});
  MatrixXd all(first + rows.rows(), rows.cols());
  if (first > 0) {
    all.topRows(first) = marks->cycles;
  }
  all.bottomRows(rows.rows()) = rows;
  marks->cycles = std::move(all);
}

MatrixXd RowOf(const std::vector<double>& values) {
  return Eigen::Map<const Eigen::RowVectorXd>(values.data(), static_cast<Index>(values.size()));
}

void AddLegs(const TrialView& view, const Cycles& cycles, GaitMarks* marks) {
  for (int i = 0; i < 2 * view.gait.leg_names_size(); ++i) {
    const std::string& leg = view.gait.leg_names(i / 2);
    const Reading reading =
        view.Read({.quantity = v1::TRIAL_QUANTITY_LEG_POSITION, .part = leg, .axis = i % 2},
                  v1::TRIAL_CLOCK_ON_BOARD);
    if (!reading) {
      continue;
    }
    MatrixXd rows(kLegMarks, static_cast<Index>(cycles.size()));
    std::size_t row = 0;
    for (std::size_t cycle = 0; cycle < cycles.size(); ++cycle) {
      rows.col(static_cast<Index>(cycle)) =
          FitHarmonics(reading, cycles.start_s[cycle], cycles.end_s[cycle], &row);
    }
    AddChannel(absl::StrCat(leg, i % 2 == 0 ? " lift" : " swing"), "m", rows, marks);
  }
}

GaitMarks MarkCycles(const TrialView& view, const Cycles& cycles) {
  GaitMarks marks;
  AddLegs(view, cycles, &marks);
  // Cycle by cycle a late tracking system tells the same once the gait is steady.
  const BodyFigures body = MeasureBody(view, cycles);
  AddChannel("stride", "m", RowOf(body.along_m), &marks);
  AddChannel("turn", "rad", RowOf(body.turn_rad), &marks);
  return marks;
}

// The replay as a log of every step.
absl::Status FillTable(const Recording& recording,
                       const v1::Robot& robot,
                       const v1::Gait& gait,
                       v1::Trial* trial,
                       std::unique_ptr<TrialTable>* table) {
  trial->set_kind(v1::TRIAL_KIND_GAIT);
  trial->set_gait(gait.name());
  trial->set_stride_frequency_hz(gait.stride_frequency_hz());
  v1::TrialGroup* group = trial->add_groups();
  group->set_name("replay");
  group->set_clock(v1::TRIAL_CLOCK_ON_BOARD);
  for (const char* label : {"time [s]", "phase", "body x [m]", "body y [m]", "body yaw [rad]"}) {
    group->add_columns()->set_label(label);
  }
  for (const std::string& leg : gait.leg_names()) {
    group->add_columns()->set_label(absl::StrCat(leg, " lift [m]"));
    group->add_columns()->set_label(absl::StrCat(leg, " swing [m]"));
  }
  if (const Violations faults = ResolveTrial(PartsOf(robot), trial); !faults.empty()) {
    return absl::InternalError(absl::StrCat(
        "a replay cannot be read as a trial: ", faults[0].field(), " ", faults[0].problem()));
  }
  *table = std::make_unique<TrialTable>(trial);
  v1::TrialBlock block;
  for (Index i = 0; i < recording.sample_count(); ++i) {
    const double time_s = static_cast<double>(i + 1) * recording.step_s;
    const double cycles = time_s * gait.stride_frequency_hz();
    block.add_values_as_labelled(time_s);
    // A step that ends on a cycle's end may be off by rounding.
    block.add_values_as_labelled(std::max(0.0, cycles - std::floor(cycles + 1e-9)));
    for (const Index axis : {0, 1, 5}) {
      block.add_values_as_labelled(recording.body_pose(axis, i));
    }
    for (Index k = 0; k < recording.leg_position_m.rows(); ++k) {
      block.add_values_as_labelled(recording.leg_position_m(k, i));
    }
  }
  (*table)->Add(block);
  (*table)->Finish();
  return absl::OkStatus();
}

}  // namespace

absl::StatusOr<GaitMarks> MarkTrial(const TrialTable& table,
                                    const v1::Gait& gait,
                                    const PlannedCycle& plan,
                                    int left_out_count,
                                    int least_cycles) {
  if (!plan.is_periodic()) {
    return absl::InvalidArgumentError("is of a gait without cycles; calibrate by one that walks");
  }
  const TrialView view = {.table = table, .gait = gait, .plan = plan};
  const Cycles cycles = FindCycles(view, {}, left_out_count);
  if (cycles.source != v1::CYCLE_SOURCE_PHASE) {
    return absl::InvalidArgumentError(
        "has no cycles by the phase that was commanded; log the phase on the controller's clock");
  }
  if (static_cast<int>(cycles.size()) < least_cycles) {
    return absl::InvalidArgumentError(absl::StrCat("has ",
                                                   cycles.size(),
                                                   " whole cycles after the first ",
                                                   left_out_count,
                                                   "; run at least ",
                                                   least_cycles + left_out_count));
  }
  return MarkCycles(view, cycles);
}

absl::StatusOr<GaitMarks> MarkReplay(const Recording& recording,
                                     const v1::Robot& robot,
                                     const v1::Gait& gait,
                                     const PlannedCycle& plan,
                                     int left_out_count) {
  v1::Trial trial;
  std::unique_ptr<TrialTable> table;
  GAITSHELF_RETURN_IF_ERROR(FillTable(recording, robot, gait, &trial, &table));
  const TrialView view = {.table = *table, .gait = gait, .plan = plan};
  return MarkCycles(view, FindCycles(view, {}, left_out_count));
}

MarkMeans MeansOf(const GaitMarks& marks) {
  const Index count = marks.cycles.rows();
  MarkMeans means{.mean = VectorXd::Constant(count, kNan),
                  .variance = VectorXd::Constant(count, kNan),
                  .count = Eigen::VectorXi::Zero(count)};
  for (Index i = 0; i < count; ++i) {
    std::vector<double> values;
    for (const double value : marks.cycles.row(i)) {
      if (std::isfinite(value)) {
        values.push_back(value);
      }
    }
    if (values.empty()) {
      continue;
    }
    Eigen::Map<Eigen::ArrayXd> all(values.data(), static_cast<Index>(values.size()));
    means.mean[i] = all.mean();
    all -= means.mean[i];
    const Noise noise = MeasureNoise(values);
    const auto cycles = static_cast<double>(values.size());
    means.count[i] = static_cast<int>(values.size());
    means.variance[i] = values.size() > 1 ? noise.deviation * noise.deviation * noise.run_length /
                                                std::max(cycles - 1.0, 1.0)
                                          : kNan;
  }
  return means;
}

}  // namespace gaitshelf::solver
