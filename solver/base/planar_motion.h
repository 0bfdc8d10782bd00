// Where a body is in the plane of the surface, which way it heads, and the steady motion that takes
// it from one such pose to another: along an arc when it turns.
//
// Lengths are in one unit of the caller's choice, angles in rad; left is positive.
#ifndef GAITSHELF_SOLVER_BASE_PLANAR_MOTION_H_
#define GAITSHELF_SOLVER_BASE_PLANAR_MOTION_H_

namespace gaitshelf::solver {

// A place and a heading, or the change from one pose to another as seen from the first.
struct PlanarPose {
  double x = 0.0;
  double y = 0.0;
  double heading = 0.0;

  // This pose with `change` done to it, which is given in this pose's own axes.
  PlanarPose Then(const PlanarPose& change) const;
  PlanarPose Inverse() const;
};

// The way along the body's own x and y while it turns steadily, and the turn.
struct PlanarMotion {
  double advance = 0.0;
  double sidestep = 0.0;
  double turn = 0.0;

  bool is_straight() const { return sidestep == 0.0 && turn == 0.0; }
  // `share` times this motion; doing it n times is Times(n), exactly.
  PlanarMotion Times(double share) const {
    return {share * advance, share * sidestep, share * turn};
  }
  // Where the motion leads from the origin.
  PlanarPose End() const;
  // The change of End() with the advance: its x and y, and 0.
  PlanarPose EndByAdvance() const;
};

// The motion of the least turn whose End() is the pose; the heading is taken as it is, unwrapped.
PlanarMotion MotionTo(const PlanarPose& end);

// A motion beside the one that was wanted, where a turn of 1 counts as a way of `lever`.
struct MotionMatch {
  double share = 0.0;  // of the wanted motion that was done
  double aside = 0.0;  // what else was done, over the size of the wanted one
};
MotionMatch CompareMotions(const PlanarMotion& wanted, const PlanarMotion& done, double lever);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_BASE_PLANAR_MOTION_H_
