#include "solver/measure/clock_delay.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include <Eigen/Core>

#include "absl/strings/str_cat.h"
#include "solver/leg/attitude.h"
#include "solver/measure/delay.h"
#include "solver/measure/reading.h"

namespace gaitshelf::solver {
namespace {

// Samples of one comparison: 20 s at 1 kHz, a tenth of a second of work.
constexpr std::size_t kMostSamples = 20000;
// Pairs of signals that are compared at most.
constexpr std::size_t kMostPairs = 4;

struct SignalPair {
  Channel on_board;
  Channel tracking;
  std::string text;
  // Samples that were worked out; tracking points at them, and they stay where they are when a pair
  // moves.
  std::unique_ptr<std::vector<double>> made{};
};

// The place of a tracked foot in the frame of the tracked body along one axis; it moves as the leg
// does, wherever the body goes. Absent when foot or body was not tracked in all directions; angles
// that were not are 0.
std::unique_ptr<std::vector<double>> FootInBody(const TrialTable& table,
                                                const std::string& foot,
                                                int axis,
                                                Channel* like) {
  std::array<Channel, 9> channels;  // foot, body, angles
  for (int i = 0; i < 9; ++i) {
    channels[static_cast<std::size_t>(i)] =
        table.FindOn({.quantity = i < 3   ? v1::TRIAL_QUANTITY_FOOT_POSITION
                                  : i < 6 ? v1::TRIAL_QUANTITY_BODY_POSITION
                                          : v1::TRIAL_QUANTITY_BODY_ATTITUDE,
                      .part = i < 3 ? foot : "",
                      .axis = i % 3},
                     v1::TRIAL_CLOCK_TRACKING);
    const Channel& channel = channels[static_cast<std::size_t>(i)];
    const bool is_needed = i < 6;
    if ((is_needed && !channel) || (channel && channel.time_s != channels[0].time_s)) {
      return nullptr;
    }
  }
  *like = channels[0];
  auto made = std::make_unique<std::vector<double>>();
  Attitude attitude;
  for (std::size_t row = 0; row < channels[0].values->size(); ++row) {
    std::array<double, 9> value = {};
    for (std::size_t i = 0; i < 9; ++i) {
      value[i] = channels[i] ? (*channels[i].values)[row] : 0.0;
    }
    EvaluateAttitude({value[6], value[7], value[8]}, AttitudeOrder::kValue, &attitude);
    const Eigen::Vector3d way(value[0] - value[3], value[1] - value[4], value[2] - value[5]);
    made->push_back(attitude.rotation.col(axis).dot(way));
  }
  return made;
}

// Looks for the foot of a leg coordinate on the tracking clock. A foot goes up when its leg lifts
// and forward when it swings.
void FindFoot(const TrialTable& table, const v1::TrialColumn& leg, SignalPair* pair) {
  const int axis = leg.axis() == 0 ? 2 : 0;
  pair->made = FootInBody(table, leg.part(), axis, &pair->tracking);
  pair->text = absl::StrCat("\"", leg.label(), "\" and the tracked foot");
  if (pair->made != nullptr) {
    pair->tracking.values = pair->made.get();
  } else if (axis == 2) {
    pair->tracking =
        table.FindOn({.quantity = v1::TRIAL_QUANTITY_FOOT_POSITION, .part = leg.part(), .axis = 2},
                     v1::TRIAL_CLOCK_TRACKING);
  }
}

bool HasClock(const v1::Trial& trial, v1::TrialClock clock) {
  return std::any_of(trial.groups().begin(), trial.groups().end(), [&](const auto& group) {
    return group.clock() == clock;
  });
}

std::vector<SignalPair> FindPairs(const TrialTable& table) {
  std::vector<SignalPair> pairs;
  for (const v1::TrialGroup& group : table.trial().groups()) {
    for (const v1::TrialColumn& column : group.columns()) {
      const bool is_motion = column.quantity() == v1::TRIAL_QUANTITY_BODY_POSITION ||
                             column.quantity() == v1::TRIAL_QUANTITY_BODY_ATTITUDE ||
                             column.quantity() == v1::TRIAL_QUANTITY_LEG_POSITION ||
                             column.quantity() == v1::TRIAL_QUANTITY_CONTACT ||
                             column.quantity() == v1::TRIAL_QUANTITY_FOOT_POSITION ||
                             column.quantity() == v1::TRIAL_QUANTITY_FOOT_FORCE;
      if (group.clock() != v1::TRIAL_CLOCK_ON_BOARD || !is_motion) {
        continue;
      }
      const ChannelName name = {
          .quantity = column.quantity(), .part = column.part(), .axis = column.axis()};
      SignalPair pair = {.on_board = table.FindOn(name, v1::TRIAL_CLOCK_ON_BOARD),
                         .tracking = table.FindOn(name, v1::TRIAL_CLOCK_TRACKING),
                         .text = absl::StrCat("\"", column.label(), "\" on both clocks")};
      if (!pair.tracking && column.quantity() == v1::TRIAL_QUANTITY_LEG_POSITION) {
        FindFoot(table, column, &pair);
      }
      if (pair.on_board && pair.tracking && pairs.size() < kMostPairs) {
        pairs.push_back(std::move(pair));
      }
    }
  }
  return pairs;
}

// Even samples from a time on; what is missing lies on the line between its neighbours.
std::vector<double> Resample(const Channel& channel,
                             double first_s,
                             double period_s,
                             std::size_t count) {
  Reading reading(channel, {});
  std::vector<double> values(count);
  std::size_t last = count;  // last finite one
  for (std::size_t i = 0; i < count; ++i) {
    values[i] = reading.At(first_s + static_cast<double>(i) * period_s);
    if (std::isnan(values[i])) {
      continue;
    }
    const std::size_t from = last == count ? 0 : last + 1;
    const double left = last == count ? values[i] : values[last];
    for (std::size_t k = from; k < i; ++k) {
      values[k] = left + (values[i] - left) * static_cast<double>(k + 1 - from) /
                             static_cast<double>(i + 1 - from);
    }
    last = i;
  }
  for (std::size_t k = last == count ? 0 : last + 1; k < count; ++k) {
    values[k] = last == count ? 0.0 : values[last];
  }
  return values;
}

v1::DelayEstimate Compare(const SignalPair& pair, double greatest_delay_s) {
  const double period_s = std::max(pair.on_board.interval_s, pair.tracking.interval_s);
  const double first_s = std::max(pair.on_board.time_s->front(), pair.tracking.time_s->front());
  const double last_s = std::min(pair.on_board.time_s->back(), pair.tracking.time_s->back());
  const double room = period_s > 0.0 ? (last_s - first_s) / period_s + 1e-6 : -1.0;
  const std::size_t all = room < 0.0 ? 0 : static_cast<std::size_t>(room) + 1;
  const std::size_t count = std::min(all, kMostSamples);
  const auto estimate_from = [&](std::size_t start) {
    const double at_s = first_s + static_cast<double>(start) * period_s;
    const std::vector<double> reference = Resample(pair.on_board, at_s, period_s, count);
    const std::vector<double> delayed = Resample(pair.tracking, at_s, period_s, count);
    return EstimateDelay({.reference = reference,
                          .delayed = delayed,
                          .sample_period_s = period_s,
                          .greatest_delay_s = greatest_delay_s});
  };
  v1::DelayEstimate estimate = estimate_from(0);
  if (estimate.outcome() != v1::DELAY_OUTCOME_FOUND && all > count) {
    v1::DelayEstimate other = estimate_from(all - count);
    if (other.outcome() == v1::DELAY_OUTCOME_FOUND) {
      estimate = other;
    }
  }
  estimate.set_reason(estimate.reason().empty() ? absl::StrCat("by ", pair.text)
                                                : absl::StrCat(pair.text, ": ", estimate.reason()));
  return estimate;
}

// Order of preference: found before ambiguous before not found, then by uncertainty.
bool IsBetter(const v1::DelayEstimate& a, const v1::DelayEstimate& b) {
  return a.outcome() != b.outcome() ? a.outcome() < b.outcome()
                                    : a.uncertainty_s() < b.uncertainty_s();
}

}  // namespace

v1::DelayEstimate EstimateClockDelay(const TrialTable& table, double greatest_delay_s) {
  v1::DelayEstimate best;
  if (!HasClock(table.trial(), v1::TRIAL_CLOCK_ON_BOARD) ||
      !HasClock(table.trial(), v1::TRIAL_CLOCK_TRACKING)) {
    best.set_reason("all logs are on one clock");
    return best;
  }
  best.set_outcome(v1::DELAY_OUTCOME_NOT_FOUND);
  best.set_reason("nothing was measured on both clocks");
  bool is_first = true;
  for (const SignalPair& pair : FindPairs(table)) {
    const v1::DelayEstimate estimate = Compare(pair, greatest_delay_s);
    if (is_first || IsBetter(estimate, best)) {
      best = estimate;
    }
    is_first = false;
  }
  return best;
}

}  // namespace gaitshelf::solver
