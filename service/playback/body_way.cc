#include "service/playback/body_way.h"

namespace gaitshelf::service {

solver::PlanarPose PlaneOf(const CurvePoint& point) {
  return {point.body_position_m[0], point.body_position_m[1], point.body_attitude_rad[2]};
}

BodyStep StepBetween(const solver::PlanarPose& before, const solver::PlanarPose& after) {
  return {.advance_m = after.x - before.x, .change = before.Inverse().Then(after)};
}

BodyStep Mix(const BodyStep& one, const BodyStep& other, double share_ratio) {
  const auto mixed = [share_ratio](double a, double b) { return a + share_ratio * (b - a); };
  return {.advance_m = mixed(one.advance_m, other.advance_m),
          .change = {mixed(one.change.x, other.change.x),
                     mixed(one.change.y, other.change.y),
                     mixed(one.change.heading, other.change.heading)}};
}

void BodyWay::Start(const solver::PlanarPose& pose) {
  way_m_ = pose.x;
  frame_ = {};
  pose_ = pose;
}

void BodyWay::Move(const BodyStep& step, const solver::PlanarPose& gait, bool is_straight) {
  way_m_ += step.advance_m;
  const solver::PlanarPose seen = {way_m_, gait.y, gait.heading};
  if (!is_straight) {
    frame_ = pose_.Then(step.change).Then(seen.Inverse());
  }
  pose_ = frame_.Then(seen);
}

}  // namespace gaitshelf::service
