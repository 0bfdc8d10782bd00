#include "solver/measure/trial_table.h"

#include <algorithm>
#include <cmath>
#include <cstddef>

namespace gaitshelf::solver {
namespace {

// An interval longer than this many medians has lost rows between.
constexpr double kGapRatio = 1.5;

bool IsNamed(const v1::TrialColumn& column, const ChannelName& name) {
  return column.quantity() == name.quantity && column.part() == name.part &&
         column.axis() == name.axis;
}

double MedianInterval(const std::vector<double>& time_s) {
  if (time_s.size() < 2) {
    return 0.0;
  }
  std::vector<double> intervals_s(time_s.size() - 1);
  for (std::size_t i = 0; i + 1 < time_s.size(); ++i) {
    intervals_s[i] = time_s[i + 1] - time_s[i];
  }
  const auto middle = intervals_s.begin() + static_cast<std::ptrdiff_t>(intervals_s.size() / 2);
  std::nth_element(intervals_s.begin(), middle, intervals_s.end());
  return *middle;
}

}  // namespace

TrialTable::TrialTable(const v1::Trial* trial) : trial_(*trial) {
  for (const v1::TrialGroup& group : trial_.groups()) {
    groups_.emplace_back().columns.resize(static_cast<std::size_t>(group.columns_size()));
  }
}

void TrialTable::Add(const v1::TrialBlock& block) {
  const v1::TrialGroup& described = trial_.groups(block.group_index());
  Group& group = groups_[static_cast<std::size_t>(block.group_index())];
  const auto width = group.columns.size();
  const double* values = block.values_as_labelled().data();
  const auto row_count = static_cast<std::size_t>(block.values_as_labelled_size()) / width;
  for (std::size_t column = 0; column < width; ++column) {
    const double si_ratio = described.columns(static_cast<int>(column)).si_ratio();
    std::vector<double>& into = group.columns[column];
    for (std::size_t row = 0; row < row_count; ++row) {
      into.push_back(si_ratio * values[row * width + column]);
    }
  }
}

void TrialTable::Finish() {
  for (int i = 0; i < trial_.groups_size(); ++i) {
    const v1::TrialGroup& described = trial_.groups(i);
    Group& group = groups_[static_cast<std::size_t>(i)];
    for (int k = 0; k < described.columns_size(); ++k) {
      if (described.columns(k).quantity() == v1::TRIAL_QUANTITY_TIME) {
        group.time_s = group.columns[static_cast<std::size_t>(k)];
      }
    }
    if (described.sample_rate_hz() > 0.0) {
      const std::size_t count = group.columns.front().size();
      for (std::size_t row = 0; row < count; ++row) {
        group.time_s.push_back(static_cast<double>(row) / described.sample_rate_hz());
      }
    }
    group.interval_s = MedianInterval(group.time_s);
  }
}

Channel TrialTable::FindOn(const ChannelName& name, v1::TrialClock clock) const {
  for (int i = 0; i < trial_.groups_size(); ++i) {
    const v1::TrialGroup& described = trial_.groups(i);
    const Group& group = groups_[static_cast<std::size_t>(i)];
    const bool is_on_clock = clock == v1::TRIAL_CLOCK_UNSPECIFIED || described.clock() == clock;
    for (int k = 0; k < described.columns_size() && is_on_clock && !group.time_s.empty(); ++k) {
      const v1::TrialColumn& column = described.columns(k);
      if (IsNamed(column, name)) {
        return {.time_s = &group.time_s,
                .values = &group.columns[static_cast<std::size_t>(k)],
                .clock = described.clock(),
                .interval_s = group.interval_s};
      }
    }
  }
  return {};
}

Channel TrialTable::Find(const ChannelName& name, v1::TrialClock wanted) const {
  const Channel channel = FindOn(name, wanted);
  return channel ? channel : FindOn(name, v1::TRIAL_CLOCK_UNSPECIFIED);
}

const std::vector<double>* TrialTable::FindColumn(const ChannelName& name) const {
  for (int i = 0; i < trial_.groups_size(); ++i) {
    for (int k = 0; k < trial_.groups(i).columns_size(); ++k) {
      if (IsNamed(trial_.groups(i).columns(k), name)) {
        return &groups_[static_cast<std::size_t>(i)].columns[static_cast<std::size_t>(k)];
      }
    }
  }
  return nullptr;
}

std::vector<v1::SamplingReport> TrialTable::ReportSampling() const {
  std::vector<v1::SamplingReport> reports;
  for (int i = 0; i < trial_.groups_size(); ++i) {
    const Group& group = groups_[static_cast<std::size_t>(i)];
    v1::SamplingReport& report = reports.emplace_back();
    report.set_group(trial_.groups(i).name());
    std::int64_t missing_count = 0;
    for (const std::vector<double>& column : group.columns) {
      missing_count += std::count_if(
          column.begin(), column.end(), [](double value) { return std::isnan(value); });
    }
    report.set_missing_count(missing_count);
    if (group.interval_s <= 0.0) {
      continue;
    }
    report.set_sample_rate_hz(1.0 / group.interval_s);
    report.set_duration_s(group.time_s.back() - group.time_s.front());
    std::int64_t dropped_count = 0;
    double longest_s = 0.0;
    for (std::size_t row = 1; row < group.time_s.size(); ++row) {
      const double interval_s = group.time_s[row] - group.time_s[row - 1];
      longest_s = std::max(longest_s, interval_s);
      if (interval_s > kGapRatio * group.interval_s) {
        dropped_count += std::llround(interval_s / group.interval_s) - 1;
      }
    }
    report.set_dropped_count(dropped_count);
    report.set_longest_gap_s(longest_s);
  }
  return reports;
}

}  // namespace gaitshelf::solver
