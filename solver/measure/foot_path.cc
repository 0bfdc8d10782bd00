#include "solver/measure/foot_path.h"

#include <cmath>
#include <cstddef>
#include <string>

namespace gaitshelf::solver {

using Eigen::Index;

FootPath::FootPath(const TrialView& view, Index foot) : plan_(view.plan), foot_(foot) {
  const std::string& name = view.gait.foot_names(static_cast<int>(foot));
  for (int axis = 0; axis < 2; ++axis) {
    tracked_.push_back(
        view.Read({.quantity = v1::TRIAL_QUANTITY_FOOT_POSITION, .part = name, .axis = axis},
                  v1::TRIAL_CLOCK_TRACKING));
  }
  const bool has_body = plan_.model().base_count() > 0;
  for (int i = 0; i < 6 && has_body; ++i) {
    coordinates_.push_back(view.Read(
        {.quantity = i < 3 ? v1::TRIAL_QUANTITY_BODY_POSITION : v1::TRIAL_QUANTITY_BODY_ATTITUDE,
         .axis = i % 3},
        v1::TRIAL_CLOCK_TRACKING));
  }
  const bool has_leg = foot < plan_.model().leg_count();
  for (int axis = 0; axis < 2 && has_leg; ++axis) {
    coordinates_.push_back(view.Read({.quantity = v1::TRIAL_QUANTITY_LEG_POSITION,
                                      .part = view.gait.leg_names(static_cast<int>(foot)),
                                      .axis = axis},
                                     v1::TRIAL_CLOCK_ON_BOARD));
  }
  is_measured_ = static_cast<bool>(tracked_[0]) ||
                 (has_body && coordinates_[0] && (!has_leg || coordinates_.back()));
}

Eigen::Vector2d FootPath::At(double time_s, double phase_ratio) {
  if (tracked_[0]) {
    return {tracked_[0].At(time_s), tracked_[1] ? tracked_[1].At(time_s) : 0.0};
  }
  Eigen::VectorXd q = plan_.Position(phase_ratio);
  const Index base = plan_.model().base_count();
  for (std::size_t i = 0; i < coordinates_.size(); ++i) {
    if (coordinates_[i]) {
      const auto k = static_cast<Index>(i);
      q[k < base ? k : base + 2 * foot_ + (k - base)] = coordinates_[i].At(time_s);
    }
  }
  if (!q.allFinite()) {
    return Eigen::Vector2d::Constant(std::nan(""));
  }
  FootKinematics kinematics;
  plan_.model().EvaluateFoot(q, foot_, false, &kinematics);
  return kinematics.position.head<2>();
}

}  // namespace gaitshelf::solver
