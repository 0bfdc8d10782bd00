// A robot and a surface that are not as described. Invented data.
#ifndef GAITSHELF_TESTS_SUPPORT_HIDDEN_ROBOT_H_
#define GAITSHELF_TESTS_SUPPORT_HIDDEN_ROBOT_H_

#include <algorithm>
#include <random>
#include <vector>

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "solver/calibrate/leg_numbers.h"

namespace gaitshelf::test {

struct HiddenRobot {
  v1::Robot robot;
  v1::Surface surface;
  std::vector<solver::LegFactors> factors;  // of each leg
  double friction_factor = 1.0;
};

// Numbers are off by up to a fifth, evenly; masses of legs by the 2 % of the description.
inline HiddenRobot Hide(const v1::Robot& robot,
                        const v1::Surface& surface,
                        std::mt19937* generator) {
  std::uniform_real_distribution<double> fifth(0.8, 1.2);
  std::normal_distribution<double> normal(0.0, 0.02);
  HiddenRobot hidden{.robot = robot, .surface = surface, .factors = {}};
  for (v1::Leg& leg : *hidden.robot.mutable_legs()) {
    solver::LegFactors factors;
    for (std::size_t axis = 0; axis < 2; ++axis) {
      factors.stiffness[axis] = fifth(*generator);
      factors.gain[axis] = fifth(*generator);
      factors.damping[axis] = fifth(*generator);
    }
    factors.mass = 1.0 + std::clamp(normal(*generator), -0.06, 0.06);
    leg = solver::LegNumbers::Create(leg).value().Scaled(leg, factors);
    hidden.factors.push_back(factors);
  }
  hidden.friction_factor = fifth(*generator);
  hidden.surface.set_friction_coefficient(hidden.friction_factor * surface.friction_coefficient());
  return hidden;
}

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SUPPORT_HIDDEN_ROBOT_H_
