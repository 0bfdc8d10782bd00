#include "solver/pose/trial_pose.h"

#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <string>
#include <vector>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "solver/base/constants.h"
#include "solver/base/status_macros.h"
#include "solver/measure/statistics.h"

namespace gaitshelf::solver {
namespace {

constexpr double kMostDelayS = 10.0;
// A value counts for this many intervals after its sample, as long as an analysis bridges a gap.
constexpr double kHoldIntervals = 4.5;

// The last sample of a channel at a time: what a loop has then. Times rise from call to call.
class Latest {
 public:
  explicit Latest(const Channel& channel) : channel_(channel) {}

  double At(double time_s) {
    while (channel_ && next_ < channel_.values->size() && (*channel_.time_s)[next_] <= time_s) {
      const double value = (*channel_.values)[next_];
      if (std::isfinite(value)) {
        value_ = value;
        value_s_ = (*channel_.time_s)[next_];
      }
      ++next_;
    }
    return time_s - value_s_ <= kHoldIntervals * channel_.interval_s ? value_ : kNan;
  }

 private:
  Channel channel_;
  std::size_t next_ = 0;
  double value_ = kNan;
  double value_s_ = -std::numeric_limits<double>::infinity();
};

ChannelName BodyChannel(int index) {
  return {
      .quantity = index < 3 ? v1::TRIAL_QUANTITY_BODY_POSITION : v1::TRIAL_QUANTITY_BODY_ATTITUDE,
      .axis = index % 3};
}

// The tracked poses of a trial, row by row.
struct TrackedRows {
  std::array<Channel, 6> channels{};  // of the same rows, or empty
  const std::vector<double>* time_s = nullptr;

  explicit TrackedRows(const TrialTable& table) {
    for (int i = 0; i < 6; ++i) {
      const Channel channel = table.Find(BodyChannel(i), v1::TRIAL_CLOCK_TRACKING);
      if (channel && i < 2 && time_s == nullptr) {
        time_s = channel.time_s;
      }
      if (channel && channel.time_s == time_s) {
        channels[static_cast<std::size_t>(i)] = channel;
      }
    }
  }

  Pose At(std::size_t row) const {
    Pose pose;
    for (std::size_t i = 0; i < 6; ++i) {
      pose[static_cast<Eigen::Index>(i)] = channels[i] ? (*channels[i].values)[row] : kNan;
    }
    return pose;
  }
};

std::vector<Latest> LegChannels(const TrialTable& table, const v1::Gait& gait) {
  std::vector<Latest> channels;
  for (const std::string& leg : gait.leg_names()) {
    for (int axis = 0; axis < 2; ++axis) {
      channels.emplace_back(
          table.FindOn({.quantity = v1::TRIAL_QUANTITY_LEG_POSITION, .part = leg, .axis = axis},
                       v1::TRIAL_CLOCK_ON_BOARD));
    }
  }
  return channels;
}

std::vector<Latest> ContactChannels(const TrialTable& table, const v1::Gait& gait) {
  std::vector<Latest> channels;
  for (const std::string& foot : gait.foot_names()) {
    channels.emplace_back(table.FindOn({.quantity = v1::TRIAL_QUANTITY_CONTACT, .part = foot},
                                       v1::TRIAL_CLOCK_ON_BOARD));
  }
  return channels;
}

// The phase that was logged in a row; where it is missing, that of the row before moved on.
class PhaseRows {
 public:
  PhaseRows(const Channel& channel, double frequency_hz)
      : channel_(channel), frequency_hz_(frequency_hz) {}

  double At(std::size_t row) {
    const double time_s = (*channel_.time_s)[row];
    const double logged = (*channel_.values)[row];
    if (std::isfinite(logged)) {
      phase_ = logged;
    } else if (phase_ >= 0.0) {
      phase_ = WrapPhase(phase_ + (time_s - last_s_) * frequency_hz_);
    }
    last_s_ = time_s;
    return phase_;
  }

 private:
  Channel channel_;
  double frequency_hz_;
  double phase_ = -1.0;
  double last_s_ = 0.0;
};

absl::Status CheckRequest(const TrialPoseRequest& request) {
  if (!(request.delay_s >= 0.0) || request.delay_s > kMostDelayS) {
    return absl::InvalidArgumentError(
        absl::StrCat("the delay is ", request.delay_s, " s; it must be 0 to ", kMostDelayS));
  }
  if (!(request.sample_rate_hz >= 0.0) || !std::isfinite(request.sample_rate_hz)) {
    return absl::InvalidArgumentError(absl::StrCat(
        "the rate is ", request.sample_rate_hz, " Hz; it must be 0, for every step, or above"));
  }
  return absl::OkStatus();
}

void ReadAll(double time_s, std::vector<Latest>* channels, std::vector<double>* values) {
  for (std::size_t i = 0; i < channels->size(); ++i) {
    (*values)[i] = (*channels)[i].At(time_s);
  }
}

}  // namespace

absl::StatusOr<TrialPoseReport> EstimateTrialPose(const TrialPoseRequest& request) {
  GAITSHELF_RETURN_IF_ERROR(CheckRequest(request));
  const TrialTable& table = *request.table;
  const Channel phase =
      table.FindOn({.quantity = v1::TRIAL_QUANTITY_PHASE}, v1::TRIAL_CLOCK_ON_BOARD);
  if (!phase || !(phase.interval_s > 0.0)) {
    return absl::FailedPreconditionError(
        "the trial has no \"phase\" on the controller's clock, by which the planned contacts go");
  }
  const TrackedRows tracked(table);
  if (tracked.time_s == nullptr) {
    return absl::FailedPreconditionError("the trial has neither \"body x\" nor \"body y\"");
  }
  // Twice the rate and the delay: neither the loop's jitter nor the tracking's loses a pose.
  PoseSettings settings = {.step_rate_hz = 2.0 / phase.interval_s,
                           .greatest_delay_s = 2.0 * request.delay_s + 4.0 * phase.interval_s,
                           .noise = request.noise};
  GAITSHELF_ASSIGN_OR_RETURN(PoseEstimator estimator,
                             PoseEstimator::Create(request.plan, settings));
  std::vector<Latest> legs = LegChannels(table, *request.gait);
  std::vector<Latest> contacts = ContactChannels(table, *request.gait);
  std::vector<double> leg_position_m(legs.size()), contact_ratio(contacts.size());
  const double frequency_hz = table.trial().stride_frequency_hz() > 0.0
                                  ? table.trial().stride_frequency_hz()
                                  : 1.0 / request.plan->period_s();
  PhaseRows phases(phase, frequency_hz);
  TrialPoseReport report;
  std::size_t next = 0;
  double due_s = -std::numeric_limits<double>::infinity();
  for (std::size_t row = 0; row < phase.time_s->size(); ++row) {
    const double time_s = (*phase.time_s)[row];
    ReadAll(time_s, &legs, &leg_position_m);
    ReadAll(time_s, &contacts, &contact_ratio);
    estimator.AddStep({.time_s = time_s,
                       .phase_ratio = phases.At(row),
                       .leg_position_m = leg_position_m,
                       .contact_ratio = contact_ratio});
    for (; next < tracked.time_s->size() && (*tracked.time_s)[next] <= time_s; ++next) {
      const double capture_s = (*tracked.time_s)[next] - request.delay_s;
      report.tracked_count +=
          estimator.AddTracking(capture_s, tracked.At(next)) == TrackingVerdict::kTaken ? 1 : 0;
    }
    if (!estimator.is_tracked() || time_s < due_s) {
      continue;
    }
    // Half an interval early is on time: rates that are not whole parts of the loop's.
    due_s = request.sample_rate_hz > 0.0
                ? time_s + 1.0 / request.sample_rate_hz - 0.5 * phase.interval_s
                : time_s;
    ++report.pose_count;
    if (!request.on_pose(time_s, estimator.Present())) {
      break;
    }
  }
  report.left_out_count = estimator.left_out_count();
  return report;
}

}  // namespace gaitshelf::solver
