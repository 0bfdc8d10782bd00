#include "solver/measure/stances.h"

#include <cmath>
#include <cstddef>
#include <string>

namespace gaitshelf::solver {
namespace {

std::vector<Stance> ReadStances(const Reading& reading, double threshold) {
  std::vector<Stance> stances;
  bool is_first = true;
  bool stands = false;
  double last_s = 0.0;
  for (std::size_t row = 0; row < reading.row_count(); ++row) {
    const double value = (*reading.channel().values)[row];
    if (std::isnan(value)) {
      continue;
    }
    const double time_s = reading.TimeOf(row);
    const bool stands_now = value > threshold;
    const double change_s = is_first ? time_s : 0.5 * (last_s + time_s);
    if (stands_now && (is_first || !stands)) {
      stances.push_back({.begin_s = change_s, .has_touchdown = !is_first});
    } else if (!stands_now && stands) {
      stances.back().end_s = change_s;
      stances.back().has_lift_off = true;
    }
    stands = stands_now;
    is_first = false;
    last_s = time_s;
  }
  if (stands) {
    stances.back().end_s = last_s;
  }
  return stances;
}

std::vector<Stance> WithoutBouncing(const std::vector<Stance>& stances, double shortest_s) {
  std::vector<Stance> joined;
  for (const Stance& stance : stances) {
    if (!joined.empty() && stance.begin_s - joined.back().end_s < shortest_s) {
      joined.back().end_s = stance.end_s;
      joined.back().has_lift_off = stance.has_lift_off;
    } else {
      joined.push_back(stance);
    }
  }
  std::vector<Stance> kept;
  for (const Stance& stance : joined) {
    const bool is_whole = stance.has_touchdown && stance.has_lift_off;
    if (!is_whole || stance.end_s - stance.begin_s >= shortest_s) {
      kept.push_back(stance);
    }
  }
  return kept;
}

}  // namespace

Stances FindStances(const TrialView& view, Eigen::Index foot, double shortest_s) {
  const std::string& name = view.gait.foot_names(static_cast<int>(foot));
  double threshold = 0.5;
  Reading reading =
      view.Read({.quantity = v1::TRIAL_QUANTITY_CONTACT, .part = name}, v1::TRIAL_CLOCK_ON_BOARD);
  if (!reading) {
    threshold = view.plan.loaded_n();
    reading = view.Read({.quantity = v1::TRIAL_QUANTITY_FOOT_FORCE, .part = name, .axis = 2});
  }
  if (!reading) {
    return {};
  }
  return {.is_measured = true,
          .first_s = reading.first_s(),
          .last_s = reading.last_s(),
          .list = WithoutBouncing(ReadStances(reading, threshold), shortest_s)};
}

}  // namespace gaitshelf::solver
