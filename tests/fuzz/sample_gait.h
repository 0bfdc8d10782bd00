// A gait for seeds and targets, with the names and digests that belong to it.
#ifndef GAITSHELF_TESTS_FUZZ_SAMPLE_GAIT_H_
#define GAITSHELF_TESTS_FUZZ_SAMPLE_GAIT_H_

#include "gaitshelf/v1/gait.pb.h"

#include "solver/robot/digest.h"
#include "tests/support/gaits.h"
#include "tests/support/robots.h"

namespace gaitshelf::fuzz {

// Gives a gait the digests of its descriptions and the name of its content.
inline v1::Gait MadeFor(const v1::Robot& robot, const v1::Surface& surface, v1::Gait gait) {
  gait.set_robot(robot.name());
  gait.set_robot_digest(solver::RobotDigest(robot));
  gait.set_surface(surface.name());
  gait.set_surface_digest(solver::SurfaceDigest(surface));
  gait.set_name(solver::GaitName(gait));
  return gait;
}

inline v1::GaitOrder OrderOf(const v1::Gait& gait) {
  v1::GaitOrder order;
  order.set_robot(gait.robot());
  order.set_surface(gait.surface());
  order.set_stride_frequency_hz(gait.stride_frequency_hz());
  *order.mutable_task() = gait.task();
  return order;
}

// A few knots of a walk of the quadruped on the bench.
inline v1::Gait SampleGait() {
  const v1::Robot robot = test::MakeQuadruped();
  return MadeFor(robot, test::MakeSurface(0.5), test::MakeSineGait(robot, {.knot_count = 8}));
}

}  // namespace gaitshelf::fuzz

#endif  // GAITSHELF_TESTS_FUZZ_SAMPLE_GAIT_H_
