#include "solver/measure/transport.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <functional>
#include <limits>
#include <optional>
#include <string>
#include <vector>

#include "absl/status/statusor.h"
#include "solver/base/constants.h"
#include "solver/measure/statistics.h"
#include "solver/robot/locomotion.h"

namespace gaitshelf::solver {
namespace {

// A speed below so many of its standard uncertainties may be none at all (common practice, no
// source).
constexpr double kLeastSignificance = 3.0;

Reading ReadDrive(const TrialView& view, std::size_t drive, v1::TrialQuantity quantity) {
  return view.Read({.quantity = quantity,
                    .part = view.gait.leg_names(static_cast<int>(drive / 2)),
                    .axis = static_cast<int>(drive % 2)},
                   v1::TRIAL_CLOCK_ON_BOARD);
}

struct Power {
  v1::PowerKind kind = v1::POWER_KIND_UNSPECIFIED;
  double watts = 0.0;
};

// Energy over the rows of a channel within the cycles, by a sum over intervals between rows, over
// the time that they take. What is missing adds nothing to either.
double MeanOver(const Reading& reading,
                const Cycles& cycles,
                const std::function<double(double, double, double, double)>& energy_j) {
  double sum_j = 0.0, length_s = 0.0;
  std::size_t cycle = 0;
  for (std::size_t row = 0; row + 1 < reading.row_count(); ++row) {
    const double from_s = reading.TimeOf(row), to_s = reading.TimeOf(row + 1);
    while (cycle < cycles.size() && cycles.end_s[cycle] <= from_s) {
      ++cycle;
    }
    if (cycle == cycles.size()) {
      break;
    }
    const double left = (*reading.channel().values)[row];
    const double right = (*reading.channel().values)[row + 1];
    if (from_s >= cycles.start_s[cycle] && std::isfinite(left) && std::isfinite(right)) {
      sum_j += energy_j(left, right, from_s, to_s);
      length_s += to_s - from_s;
    }
  }
  return length_s > 0.0 ? sum_j / length_s : std::nan("");
}

std::vector<std::size_t> PresentDrives(const PlannedCycle& plan) {
  std::vector<std::size_t> present;
  for (std::size_t i = 0; i < plan.model().drives().size(); ++i) {
    if (plan.model().drives()[i].is_present) {
      present.push_back(i);
    }
  }
  return present;
}

bool HasCapacitances(const PlannedCycle& plan) {
  const std::vector<std::size_t> drives = PresentDrives(plan);
  return !drives.empty() && std::all_of(drives.begin(), drives.end(), [&](std::size_t drive) {
    return plan.model().drives()[drive].capacitance_f > 0.0;
  });
}

Power LoggedPower(const TrialView& view, const Cycles& cycles) {
  const Reading power = view.Read({.quantity = v1::TRIAL_QUANTITY_POWER}, v1::TRIAL_CLOCK_ON_BOARD);
  return {.kind = v1::POWER_KIND_LOGGED,
          .watts = MeanOver(power, cycles, [](double left, double right, double from, double to) {
            return 0.5 * (left + right) * (to - from);
          })};
}

Power NetPower(const TrialView& view, const Cycles& cycles) {
  Power power = {.kind = v1::POWER_KIND_NET_OF_RETURN};
  for (const std::size_t drive : PresentDrives(view.plan)) {
    Reading current = ReadDrive(view, drive, v1::TRIAL_QUANTITY_CURRENT);
    const Reading voltage = ReadDrive(view, drive, v1::TRIAL_QUANTITY_VOLTAGE);
    power.watts +=
        MeanOver(voltage, cycles, [&](double left, double right, double from, double to) {
          const double energy_j =
              0.5 * (left * current.At(from) + right * current.At(to)) * (to - from);
          return std::isfinite(energy_j) ? energy_j : 0.0;
        });
  }
  return power;
}

// Loading C from V1 to V2 takes (V2^2 - V1^2) C / 2; unloading gives nothing back.
double ChargingEnergy(double capacitance_f, double from_v, double to_v) {
  return 0.5 * capacitance_f * std::max(0.0, to_v * to_v - from_v * from_v);
}

Power ChargingPower(const TrialView& view, const Cycles& cycles) {
  Power power = {.kind = v1::POWER_KIND_CHARGING};
  for (const std::size_t drive : PresentDrives(view.plan)) {
    const double capacitance_f = view.plan.model().drives()[drive].capacitance_f;
    const Reading voltage = ReadDrive(view, drive, v1::TRIAL_QUANTITY_VOLTAGE);
    power.watts += MeanOver(voltage, cycles, [&](double left, double right, double, double) {
      return ChargingEnergy(capacitance_f, left, right);
    });
  }
  return power;
}

Power FindPower(const TrialView& view, const Cycles& cycles) {
  if (view.Read({.quantity = v1::TRIAL_QUANTITY_POWER})) {
    return LoggedPower(view, cycles);
  }
  const std::vector<std::size_t> drives = PresentDrives(view.plan);
  const auto have_all = [&](v1::TrialQuantity quantity) {
    return !drives.empty() && std::all_of(drives.begin(), drives.end(), [&](std::size_t drive) {
      return static_cast<bool>(ReadDrive(view, drive, quantity));
    });
  };
  if (!have_all(v1::TRIAL_QUANTITY_VOLTAGE)) {
    return {};
  }
  if (have_all(v1::TRIAL_QUANTITY_CURRENT)) {
    return NetPower(view, cycles);
  }
  return HasCapacitances(view.plan) ? ChargingPower(view, cycles) : Power();
}

void AddPeakVoltage(const TrialView& view, v1::TrialAnalysis* analysis) {
  double peak_v = -std::numeric_limits<double>::infinity();
  for (std::size_t drive = 0; drive < view.plan.model().drives().size(); ++drive) {
    const Reading reading = ReadDrive(view, drive, v1::TRIAL_QUANTITY_VOLTAGE);
    for (std::size_t row = 0; row < reading.row_count(); ++row) {
      const double value = (*reading.channel().values)[row];
      peak_v = std::isnan(value) ? peak_v : std::max(peak_v, value);
    }
  }
  analysis->set_peak_voltage_v(std::isfinite(peak_v) ? peak_v : 0.0);
}

}  // namespace

void AddTransport(const TrialView& view, const Cycles& cycles, v1::TrialAnalysis* analysis) {
  AddPeakVoltage(view, analysis);
  if (analysis->speed_m_per_s().count() == 0) {
    AddNote("cost", "without a speed there is no cost of transport", analysis);
    return;
  }
  const Power power = FindPower(view, cycles);
  if (power.kind == v1::POWER_KIND_UNSPECIFIED || !std::isfinite(power.watts)) {
    AddNote("cost",
            "no power is known: log \"power [mW]\", or the voltage of every drive with its current "
            "or, in the robot's description, its capacitance",
            analysis);
    return;
  }
  const double speed_m_per_s = analysis->speed_m_per_s().mean_si();
  const double uncertainty_m_per_s = analysis->speed_m_per_s().uncertainty_si();
  if (std::abs(speed_m_per_s) <= kLeastSignificance * uncertainty_m_per_s) {
    AddNote(
        "cost", "the speed is not distinct from 0, where there is no cost of transport", analysis);
    return;
  }
  const absl::StatusOr<double> cost = CostOfTransport({.power_w = power.watts,
                                                       .mass_kg = view.plan.model().total_mass(),
                                                       .gravity_m_per_s2 = kGravityMPerS2,
                                                       .speed_m_per_s = speed_m_per_s});
  if (!cost.ok()) {
    AddNote("cost", std::string(cost.status().message()), analysis);
    return;
  }
  v1::TransportCost* into = analysis->mutable_cost();
  into->set_power_kind(power.kind);
  into->set_power_w(power.watts);
  into->set_mass_kg(view.plan.model().total_mass());
  into->set_cost_ratio(*cost);
  into->set_uncertainty_ratio(std::abs(*cost) * uncertainty_m_per_s / std::abs(speed_m_per_s));
}

std::optional<double> PlannedChargingCost(const v1::Gait& gait, const PlannedCycle& plan) {
  if (!plan.is_periodic() || !HasCapacitances(plan)) {
    return std::nullopt;
  }
  const int drives = 2 * gait.leg_names_size();
  double energy_j = 0.0;
  for (const std::size_t drive : PresentDrives(plan)) {
    for (int knot = 0; knot < gait.knot_count(); ++knot) {
      const int next = (knot + 1) % gait.knot_count();
      energy_j += ChargingEnergy(plan.model().drives()[drive].capacitance_f,
                                 gait.voltage_v(knot * drives + static_cast<int>(drive)),
                                 gait.voltage_v(next * drives + static_cast<int>(drive)));
    }
  }
  const absl::StatusOr<double> cost =
      CostOfTransport({.power_w = energy_j / plan.period_s(),
                       .mass_kg = plan.model().total_mass(),
                       .gravity_m_per_s2 = kGravityMPerS2,
                       .speed_m_per_s = gait.advance_m() / plan.period_s()});
  return cost.ok() ? std::make_optional(*cost) : std::nullopt;
}

}  // namespace gaitshelf::solver
