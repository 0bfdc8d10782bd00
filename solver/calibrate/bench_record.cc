#include "solver/calibrate/bench_record.h"

#include <algorithm>
#include <cmath>

#include "solver/robot/leg_form.h"

namespace gaitshelf::solver {
namespace {

// The value that was in force at a time: that of the last row at or before it which is not missing;
// before the first the first.
class Held {
 public:
  explicit Held(const Channel& channel) : channel_(channel) {}

  double At(double time_s) {
    const std::vector<double>& times = *channel_.time_s;
    while (next_ < times.size() && (times[next_] <= time_s || std::isnan(value_))) {
      const double value = (*channel_.values)[next_++];
      value_ = std::isnan(value) ? value_ : value;
    }
    return value_;
  }

 private:
  Channel channel_;
  std::size_t next_ = 0;
  double value_ = std::nan("");
};

void FillInput(const Channel& channel, double less, Eigen::Index row, BenchRecord* record) {
  Held held(channel);
  for (std::size_t i = 0; i < record->row_count(); ++i) {
    const double value = held.At((*record->time_s)[i]);
    record->input(row, static_cast<Eigen::Index>(i)) = std::isnan(value) ? 0.0 : value - less;
  }
}

void FillInputs(const TrialTable& table, const v1::Leg& leg, BenchRecord* record) {
  for (int axis = 0; axis < 2; ++axis) {
    const v1::Bimorph* bimorph = BimorphOf(leg, axis);
    const Channel voltage =
        table.Find({.quantity = v1::TRIAL_QUANTITY_VOLTAGE, .part = leg.name(), .axis = axis});
    if (voltage && bimorph != nullptr) {
      FillInput(voltage, bimorph->bias_v(), axis, record);
      record->has_voltage[static_cast<std::size_t>(axis)] = true;
    }
    if (const Channel force = table.Find(
            {.quantity = v1::TRIAL_QUANTITY_APPLIED_FORCE, .part = leg.name(), .axis = axis})) {
      FillInput(force, 0.0, 2 + axis, record);
    }
  }
  // One mass hangs on the leg for the whole test.
  if (const std::vector<double>* added =
          table.FindColumn({.quantity = v1::TRIAL_QUANTITY_ADDED_MASS});
      added != nullptr && !added->empty() && std::isfinite(added->front())) {
    record->added_mass_kg = added->front();
  }
}

}  // namespace

std::vector<BenchRecord> ReadBenchRecords(const TrialTable& table, const v1::Leg& leg) {
  std::vector<BenchRecord> records;
  for (int axis = 0; axis < 2; ++axis) {
    const Channel position =
        table.Find({.quantity = v1::TRIAL_QUANTITY_LEG_POSITION, .part = leg.name(), .axis = axis});
    if (!position || position.values->size() < 2) {
      continue;
    }
    const auto at = static_cast<std::size_t>(axis);
    if (!records.empty() && records.front().time_s == position.time_s) {
      records.front().position_m[at] = position.values;
      continue;
    }
    BenchRecord& record = records.emplace_back();
    record.trial = table.trial().name();
    record.time_s = position.time_s;
    record.position_m[at] = position.values;
    const std::size_t count = std::min(position.values->size(), BenchRecord::kMostRows);
    record.input.setZero(4, static_cast<Eigen::Index>(count));
    FillInputs(table, leg, &record);
  }
  return records;
}

}  // namespace gaitshelf::solver
