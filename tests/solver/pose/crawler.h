// A made-up crawl whose pose is known at every time and whose legs agree with it: feet that stand
// stay in place but for a steady slip. Invented data.
#ifndef GAITSHELF_TESTS_SOLVER_POSE_CRAWLER_H_
#define GAITSHELF_TESTS_SOLVER_POSE_CRAWLER_H_

#include <cmath>
#include <numbers>
#include <vector>

#include "gaitshelf/v1/gait.pb.h"

#include "solver/measure/planned_cycle.h"
#include "solver/pose/dead_reckoner.h"
#include "solver/pose/pose.h"
#include "tests/support/gaits.h"
#include "tests/support/robots.h"

namespace gaitshelf::test {

// The quadruped trots straight on at a constant speed; diagonal legs move together.
struct Crawler {
  double frequency_hz = 10.0;
  double advance_m = 0.008;     // per cycle, as planned
  double slip_ratio = 0.0;      // share of the advance that is lost
  double heading_rad = 0.0;     // in the frame of the tracking
  double turn_rad_per_s = 0.0;  // of the walk, which then goes along a circle
  double duty_ratio = 0.6;

  double Phase(double time_s) const {
    const double cycles = time_s * frequency_hz;
    return cycles - std::floor(cycles);
  }

  bool Stands(int leg, double phase) const { return Since(leg, phase) < duty_ratio; }

  // Lift and swing of each leg.
  std::vector<double> Legs(double phase) const {
    std::vector<double> legs;
    const double reach_m = 0.5 * duty_ratio * advance_m;
    for (int leg = 0; leg < 4; ++leg) {
      const double since = Since(leg, phase);
      const double flown = (since - duty_ratio) / (1.0 - duty_ratio);
      const bool stands = since < duty_ratio;
      legs.push_back(stands ? 0.0 : 0.001 * std::sin(std::numbers::pi * flown));
      legs.push_back(stands ? reach_m - advance_m * since : reach_m * (2.0 * flown - 1.0));
    }
    return legs;
  }

  // Where the body is.
  solver::Pose Truth(double time_s) const {
    const double speed = (1.0 - slip_ratio) * advance_m * frequency_hz;
    solver::Pose pose = solver::Pose::Zero();
    const double yaw = heading_rad + turn_rad_per_s * time_s;
    if (turn_rad_per_s == 0.0) {
      pose[0] = std::cos(heading_rad) * speed * time_s;
      pose[1] = std::sin(heading_rad) * speed * time_s;
    } else {
      const double radius_m = speed / turn_rad_per_s;
      pose[0] = radius_m * (std::sin(yaw) - std::sin(heading_rad));
      pose[1] = radius_m * (std::cos(heading_rad) - std::cos(yaw));
    }
    pose[2] = 0.011;
    pose[5] = yaw;
    return pose;
  }

  v1::Gait Gait(const v1::Robot& robot) const {
    constexpr int kKnots = 200;
    v1::Gait gait = MakeSineGait(
        robot, {.knot_count = kKnots, .frequency_hz = frequency_hz, .advance_m = advance_m});
    for (int knot = 0; knot < kKnots; ++knot) {
      const double phase = static_cast<double>(knot) / kKnots;
      const std::vector<double> legs = Legs(phase);
      for (int i = 0; i < 8; ++i) {
        gait.set_leg_position_m(8 * knot + i, legs[static_cast<std::size_t>(i)]);
      }
      for (int leg = 0; leg < 4; ++leg) {
        gait.set_foot_force_n(12 * knot + 3 * leg + 2, Stands(leg, phase) ? 0.01 : 0.0);
      }
    }
    return gait;
  }

 private:
  double Since(int leg, double phase) const {
    const double landing = leg == 0 || leg == 3 ? 0.0 : 0.5;
    return phase - landing - std::floor(phase - landing);
  }
};

struct PlannedCrawl {
  v1::Robot robot = MakeQuadruped();
  v1::Gait gait;
  solver::PlannedCycle plan;

  explicit PlannedCrawl(const Crawler& crawler)
      : gait(crawler.Gait(robot)),
        plan(solver::PlannedCycle::Create(
                 {.robot = robot, .surface = MakeSurface(0.5), .gait = gait})
                 .value()) {}
};

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SOLVER_POSE_CRAWLER_H_
