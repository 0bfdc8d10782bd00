#include "solver/measure/mean_cycle.h"

#include <array>
#include <cmath>
#include <cstddef>
#include <vector>

#include "solver/base/constants.h"

namespace gaitshelf::solver {
namespace {

constexpr int kPhases = kMeanCyclePhases;

// Mean and standard deviation (n - 1) at each phase, updated value by value (B. P. Welford,
// Technometrics 4 (1962) 419-420, from memory).
class PhaseMean {
 public:
  void Add(int phase, double value) {
    if (std::isnan(value)) {
      return;
    }
    Entry& entry = entries_[static_cast<std::size_t>(phase)];
    entry.count += 1.0;
    const double step = value - entry.mean;
    entry.mean += step / entry.count;
    entry.squares += step * (value - entry.mean);
  }
  double Mean(int phase) const {
    const Entry& entry = entries_[static_cast<std::size_t>(phase)];
    return entry.count > 0.0 ? entry.mean : kNan;
  }
  double Deviation(int phase) const {
    const Entry& entry = entries_[static_cast<std::size_t>(phase)];
    return entry.count > 1.0   ? std::sqrt(entry.squares / (entry.count - 1.0))
           : entry.count > 0.0 ? 0.0
                               : kNan;
  }
  bool empty() const {
    for (const Entry& entry : entries_) {
      if (entry.count > 0.0) {
        return false;
      }
    }
    return true;
  }

 private:
  struct Entry {
    double count = 0.0;
    double mean = 0.0;
    double squares = 0.0;
  };
  std::vector<Entry> entries_ = std::vector<Entry>(kPhases);
};

double TimeAt(const Cycles& cycles, std::size_t cycle, int phase) {
  return cycles.start_s[cycle] +
         (cycles.end_s[cycle] - cycles.start_s[cycle]) * phase / static_cast<double>(kPhases);
}

PhaseMean MeanOf(const Cycles& cycles, Reading reading) {
  PhaseMean mean;
  for (std::size_t i = 0; i < cycles.size(); ++i) {
    for (int phase = 0; phase < kPhases; ++phase) {
      mean.Add(phase, reading.At(TimeAt(cycles, i, phase)));
    }
  }
  return mean;
}

std::vector<PhaseMean> MeansOfCoordinates(const TrialView& view,
                                          const Cycles& cycles,
                                          v1::TrialQuantity quantity) {
  std::vector<PhaseMean> means;
  means.reserve(2 * static_cast<std::size_t>(view.gait.leg_names_size()));
  for (int i = 0; i < 2 * view.gait.leg_names_size(); ++i) {
    means.push_back(
        MeanOf(cycles,
               view.Read({.quantity = quantity, .part = view.gait.leg_names(i / 2), .axis = i % 2},
                         v1::TRIAL_CLOCK_ON_BOARD)));
  }
  return means;
}

bool HasAny(const std::vector<PhaseMean>& means) {
  for (const PhaseMean& mean : means) {
    if (!mean.empty()) {
      return true;
    }
  }
  return false;
}

void AddLegs(const TrialView& view, const Cycles& cycles, v1::MeanCycle* into) {
  const std::vector<PhaseMean> legs =
      MeansOfCoordinates(view, cycles, v1::TRIAL_QUANTITY_LEG_POSITION);
  const std::vector<PhaseMean> voltages =
      MeansOfCoordinates(view, cycles, v1::TRIAL_QUANTITY_VOLTAGE);
  for (int phase = 0; phase < kPhases; ++phase) {
    for (std::size_t i = 0; i < legs.size() && HasAny(legs); ++i) {
      into->add_leg_position_m(legs[i].Mean(phase));
      into->add_leg_position_deviation_m(legs[i].Deviation(phase));
    }
    for (std::size_t i = 0; i < voltages.size() && HasAny(voltages); ++i) {
      into->add_voltage_v(voltages[i].Mean(phase));
    }
  }
}

PhaseMean MeanContact(const Cycles& cycles, const std::vector<Stance>& stances) {
  PhaseMean mean;
  auto stance = stances.begin();
  for (std::size_t i = 0; i < cycles.size(); ++i) {
    for (int phase = 0; phase < kPhases; ++phase) {
      const double time_s = TimeAt(cycles, i, phase);
      while (stance != stances.end() && stance->end_s <= time_s) {
        ++stance;
      }
      const bool stands = stance != stances.end() && stance->begin_s <= time_s;
      mean.Add(phase, stands ? 1.0 : 0.0);
    }
  }
  return mean;
}

void AddContacts(const Cycles& cycles, const std::vector<Stances>& feet, v1::MeanCycle* into) {
  std::vector<PhaseMean> means;
  means.reserve(feet.size());
  for (const Stances& foot : feet) {
    means.push_back(foot.is_measured ? MeanContact(cycles, foot.list) : PhaseMean());
  }
  for (int phase = 0; phase < kPhases; ++phase) {
    for (std::size_t foot = 0; foot < feet.size() && HasAny(means); ++foot) {
      into->add_contact_ratio(means[foot].Mean(phase));
    }
  }
}

std::array<double, 3> PlaceAt(double time_s, std::array<Reading, 3>* readings) {
  std::array<double, 3> place_m = {};
  for (std::size_t axis = 0; axis < place_m.size(); ++axis) {
    place_m[axis] = (*readings)[axis].At(time_s);
  }
  return place_m;
}

void AddBody(const TrialView& view,
             const Cycles& cycles,
             const BodyFigures& body,
             v1::MeanCycle* into) {
  std::array<Reading, 3> readings;
  for (int axis = 0; axis < 3; ++axis) {
    readings[static_cast<std::size_t>(axis)] = view.Read(
        {.quantity = v1::TRIAL_QUANTITY_BODY_POSITION, .axis = axis}, v1::TRIAL_CLOCK_TRACKING);
  }
  const bool has_y = static_cast<bool>(readings[1]);
  std::vector<PhaseMean> means(3);
  for (std::size_t i = 0; i < cycles.size(); ++i) {
    const double c = has_y ? std::cos(body.heading_rad[i]) : 1.0;
    const double s = has_y ? std::sin(body.heading_rad[i]) : 0.0;
    const std::array<double, 3> start_m = PlaceAt(TimeAt(cycles, i, 0), &readings);
    for (int phase = 0; phase < kPhases; ++phase) {
      const std::array<double, 3> place_m = PlaceAt(TimeAt(cycles, i, phase), &readings);
      const double x_m = place_m[0] - start_m[0];
      const double y_m = place_m[1] - start_m[1];
      means[0].Add(phase, has_y ? c * x_m + s * y_m : x_m);
      means[1].Add(phase, c * y_m - s * x_m);
      means[2].Add(phase, place_m[2] - start_m[2]);
    }
  }
  for (int phase = 0; phase < kPhases; ++phase) {
    for (std::size_t axis = 0; axis < 3 && HasAny(means); ++axis) {
      into->add_body_position_m(means[axis].Mean(phase));
    }
  }
}

}  // namespace

void AddMeanCycle(const TrialView& view,
                  const Cycles& cycles,
                  const std::vector<Stances>& feet,
                  const BodyFigures& body,
                  v1::TrialAnalysis* analysis) {
  if (cycles.size() == 0) {
    return;
  }
  v1::MeanCycle* into = analysis->mutable_mean_cycle();
  into->set_phase_count(kPhases);
  *into->mutable_leg_names() = view.gait.leg_names();
  *into->mutable_foot_names() = view.gait.foot_names();
  AddLegs(view, cycles, into);
  AddContacts(cycles, feet, into);
  AddBody(view, cycles, body, into);
}

}  // namespace gaitshelf::solver
