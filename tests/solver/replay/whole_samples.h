// The demonstration robot with linkage legs as a whole mechanism, as tests of the replay use it.
#ifndef GAITSHELF_TESTS_SOLVER_REPLAY_WHOLE_SAMPLES_H_
#define GAITSHELF_TESTS_SOLVER_REPLAY_WHOLE_SAMPLES_H_

#include <cmath>
#include <numbers>
#include <utility>

#include <Eigen/Core>

#include "gaitshelf/v1/gait.pb.h"

#include "solver/leg/standing.h"
#include "solver/replay/replay_model.h"
#include "solver/replay/whole_robot.h"
#include "solver/robot/digest.h"
#include "tests/support/demo.h"
#include "tests/support/robots.h"

namespace gaitshelf::test {

// Both models of one robot.
struct WholeSample {
  v1::Robot robot;
  solver::RobotModel outline;
  solver::WholeRobot whole;
};

// Without gravity when it falls freely.
inline WholeSample MakeWholeSample(double friction, bool falls = false) {
  v1::Robot robot = ReadDemoRobot("weevil");
  solver::RobotModel outline = solver::CreateReplayModel(robot, MakeSurface(friction)).value();
  if (falls) {
    outline = outline.InFreeFall();
  }
  solver::WholeRobot whole = solver::WholeRobot::Create(robot, outline).value();
  return {std::move(robot), std::move(outline), std::move(whole)};
}

// Coordinates of the outline far from rest, inside the travels, and rates of all of them.
inline Eigen::VectorXd BentPosition(const solver::RobotModel& outline) {
  Eigen::VectorXd q = outline.ReferencePosture();
  q[2] += 2.0;
  q.segment<3>(3) << 0.1, -0.2, 0.3;
  q.tail(8) << 0.1, -0.12, -0.08, 0.15, 0.05, 0.1, -0.1, -0.1;
  return q;
}
inline Eigen::VectorXd SomeVelocity() {
  return (Eigen::VectorXd(14) << 0.3,
          -0.2,
          0.4,
          0.5,
          -0.6,
          0.8,
          0.1,
          0.2,
          -0.1,
          0.3,
          0.2,
          -0.2,
          0.1,
          0.0)
      .finished();
}

// Shifts its body to and fro over standing feet, 12 times a second, under holding voltage; no
// solution of any plan.
inline v1::Gait MakeSwaying(const WholeSample& sample, double swing_m) {
  constexpr int kKnots = 40;
  const solver::Standing standing =
      solver::FindStanding(sample.outline, solver::FootCondition::kSliding).value();
  const solver::Scale& scale = sample.outline.scale();
  v1::Gait gait;
  gait.set_robot_digest(solver::RobotDigest(sample.robot));
  gait.set_is_periodic(true);
  gait.set_knot_count(kKnots);
  gait.set_knot_period_s(1.0 / 12.0 / kKnots);
  for (int k = 0; k < kKnots; ++k) {
    const double way_m = swing_m * std::sin(2.0 * std::numbers::pi * k / kKnots);
    for (Eigen::Index i = 0; i < 3; ++i) {
      gait.add_body_position_m(standing.position[i] * scale.length_m + (i == 0 ? way_m : 0.0));
      gait.add_body_attitude_rad(0.0);
    }
    for (Eigen::Index i = 0; i < 8; ++i) {
      const solver::Drive& drive = sample.outline.drives()[static_cast<size_t>(i)];
      gait.add_leg_position_m(i % 2 == 0 ? 0.0 : -way_m);
      gait.add_voltage_v(drive.bias_v + drive.half_range_v * standing.drive[i]);
    }
    for (const double load : standing.normal_load) {
      gait.add_foot_force_n(0.0);
      gait.add_foot_force_n(0.0);
      gait.add_foot_force_n(load * scale.force_n());
    }
  }
  return gait;
}

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SOLVER_REPLAY_WHOLE_SAMPLES_H_
