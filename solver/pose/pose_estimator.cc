#include "solver/pose/pose_estimator.h"

#include <algorithm>
#include <cmath>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"

namespace gaitshelf::solver {
namespace {

constexpr double kMostStepRateHz = 1e5;
constexpr double kMostDelayS = 10.0;

absl::Status CheckSettings(const PoseSettings& settings) {
  if (!(settings.step_rate_hz > 0.0) || settings.step_rate_hz > kMostStepRateHz) {
    return absl::InvalidArgumentError(absl::StrCat("step_rate_hz is ",
                                                   settings.step_rate_hz,
                                                   "; it must be above 0 up to ",
                                                   kMostStepRateHz,
                                                   ": give the steps of the loop a second"));
  }
  if (!(settings.greatest_delay_s > 0.0) || settings.greatest_delay_s > kMostDelayS) {
    return absl::InvalidArgumentError(absl::StrCat("greatest_delay_s is ",
                                                   settings.greatest_delay_s,
                                                   "; it must be above 0 up to ",
                                                   kMostDelayS,
                                                   ": give the greatest lag of the tracking"));
  }
  if (!(settings.greatest_jump_m > 0.0)) {
    return absl::InvalidArgumentError(
        absl::StrCat("greatest_jump_m is ", settings.greatest_jump_m, "; it must be above 0"));
  }
  const PoseNoise& noise = settings.noise;
  for (const double deviation : {noise.tracked_m,
                                 noise.tracked_rad,
                                 noise.motion_m,
                                 noise.motion_rad,
                                 noise.slip_change_m_per_s_per_root_s,
                                 noise.slip_change_rad_per_s_per_root_s,
                                 noise.first_m,
                                 noise.first_rad,
                                 noise.first_slip_m_per_s,
                                 noise.first_slip_rad_per_s}) {
    if (!(deviation > 0.0) || !std::isfinite(deviation)) {
      return absl::InvalidArgumentError(absl::StrCat(
          "a standard deviation of the noise is ", deviation, "; each must be above 0"));
    }
  }
  return absl::OkStatus();
}

}  // namespace

absl::StatusOr<PoseEstimator> PoseEstimator::Create(const PlannedCycle* plan,
                                                    const PoseSettings& settings) {
  if (const absl::Status status = CheckSettings(settings); !status.ok()) {
    return status;
  }
  if (!plan->is_periodic()) {
    return absl::FailedPreconditionError(
        "the gait is a hop; a pose is estimated for gaits that go on");
  }
  if (plan->model().base_count() == 0) {
    return absl::FailedPreconditionError("the robot's body is clamped, and its pose known");
  }
  if (plan->model().foot_count() > DeadReckoner::kMostFeet) {
    return absl::FailedPreconditionError(absl::StrCat("the robot has ",
                                                      plan->model().foot_count(),
                                                      " feet; a pose is estimated with at most ",
                                                      DeadReckoner::kMostFeet));
  }
  return PoseEstimator(plan, settings);
}

PoseEstimator::PoseEstimator(const PlannedCycle* plan, const PoseSettings& settings)
    : settings_(settings),
      reckoner_(plan),
      window_(settings.noise),
      // Two more: the ends of the interval that holds the oldest capture.
      ring_(static_cast<std::size_t>(settings.greatest_delay_s * settings.step_rate_hz) + 3) {}

const PoseEstimator::Reckoned& PoseEstimator::Remembered(std::size_t index) const {
  return ring_[(first_ + index) % ring_.size()];
}

bool PoseEstimator::AddStep(const LegSample& sample) {
  const bool is_later = count_ == 0 || sample.time_s > Remembered(count_ - 1).time_s;
  if (!std::isfinite(sample.time_s) || !is_later) {
    return false;
  }
  const Pose& pose = reckoner_.Add(sample);
  if (count_ == ring_.size()) {
    first_ = (first_ + 1) % ring_.size();
    --count_;
  }
  ring_[(first_ + count_) % ring_.size()] = {.time_s = sample.time_s, .pose = pose};
  ++count_;
  return true;
}

Pose PoseEstimator::ReckonedAt(double time_s) const {
  // The first that is later.
  std::size_t low = 0, high = count_ - 1;
  while (low < high) {
    const std::size_t middle = (low + high) / 2;
    if (Remembered(middle).time_s > time_s) {
      high = middle;
    } else {
      low = middle + 1;
    }
  }
  const Reckoned& right = Remembered(low);
  if (low == 0 || right.time_s <= time_s) {
    return right.pose;
  }
  const Reckoned& left = Remembered(low - 1);
  const double part = (time_s - left.time_s) / (right.time_s - left.time_s);
  return left.pose + part * (right.pose - left.pose);
}

TrackingVerdict PoseEstimator::Refuse(TrackingVerdict verdict) {
  ++left_out_count_;
  return verdict;
}

TrackingVerdict PoseEstimator::AddTracking(double capture_s, const Pose& tracked) {
  if (!std::isfinite(tracked[0]) && !std::isfinite(tracked[1])) {
    return TrackingVerdict::kEmpty;
  }
  if (count_ == 0 || !(capture_s <= Remembered(count_ - 1).time_s)) {
    return Refuse(TrackingVerdict::kNotYet);
  }
  if (is_tracked() && capture_s <= capture_s_) {
    return Refuse(TrackingVerdict::kOutOfOrder);
  }
  const double oldest_s =
      std::max(Remembered(0).time_s, Remembered(count_ - 1).time_s - settings_.greatest_delay_s);
  if (capture_s < oldest_s) {
    return Refuse(TrackingVerdict::kTooOld);
  }
  const Pose reckoned = ReckonedAt(capture_s);
  Pose near = tracked;
  bool is_restart = !is_tracked();
  if (!is_restart) {
    const PoseLink link = {.motion = MotionBetween(capture_reckoned_, reckoned),
                           .duration_s = capture_s - capture_s_};
    const Pose expected = MovedSlipping(window_.newest(), link);
    double jump_m = 0.0;
    for (int i = 0; i < 3; ++i) {
      near[3 + i] = NearestTurn(tracked[3 + i], expected[3 + i]);
      if (std::isfinite(tracked[i])) {
        jump_m = std::hypot(jump_m, tracked[i] - expected[i]);
      }
    }
    if (jump_m <= settings_.greatest_jump_m) {
      window_.Add(link, near);
    } else if (++implausible_in_a_row_ < kMostImplausible) {
      return Refuse(TrackingVerdict::kImplausible);
    } else {
      is_restart = true;
    }
  }
  if (is_restart) {
    window_.Start(near, reckoned);
  }
  implausible_in_a_row_ = 0;
  capture_s_ = capture_s;
  capture_reckoned_ = reckoned;
  return TrackingVerdict::kTaken;
}

Pose PoseEstimator::Present() const {
  const Reckoned& last = Remembered(count_ - 1);
  if (!is_tracked()) {
    return last.pose;
  }
  return MovedSlipping(window_.newest(),
                       {.motion = MotionBetween(capture_reckoned_, last.pose),
                        .duration_s = last.time_s - capture_s_});
}

}  // namespace gaitshelf::solver
