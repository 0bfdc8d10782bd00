// Where the planned body of a session is on the surface. Straight gaits are seen in a frame, along
// whose x they go; a gait that turns carries the body along its arc and leaves the frame turned.
#ifndef GAITSHELF_SERVICE_PLAYBACK_BODY_WAY_H_
#define GAITSHELF_SERVICE_PLAYBACK_BODY_WAY_H_

#include "service/playback/gait_curve.h"
#include "solver/base/planar_motion.h"

namespace gaitshelf::service {

// Place and heading of the body at a point of a curve, m and rad.
solver::PlanarPose PlaneOf(const CurvePoint& point);

// What a body does from one sample to the next.
struct BodyStep {
  double advance_m = 0.0;       // along x of the gait
  solver::PlanarPose change{};  // in the body's own axes
};

// The step from one point of a curve to another.
BodyStep StepBetween(const solver::PlanarPose& before, const solver::PlanarPose& after);
// The one step with a share of the other mixed in.
BodyStep Mix(const BodyStep& one, const BodyStep& other, double share_ratio);

class BodyWay {
 public:
  // Begins at a pose.
  void Start(const solver::PlanarPose& pose);
  // Goes on by a step to where the gait has its own y and heading; a step of nothing when the body
  // has not moved since the last sample.
  void Move(const BodyStep& step, const solver::PlanarPose& gait, bool is_straight);
  const solver::PlanarPose& pose() const { return pose_; }

 private:
  double way_m_ = 0.0;  // along x of the frame
  solver::PlanarPose frame_;
  solver::PlanarPose pose_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_PLAYBACK_BODY_WAY_H_
