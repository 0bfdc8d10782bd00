// Numbers that compare the motion of robots of different size.
#ifndef GAITSHELF_SOLVER_ROBOT_LOCOMOTION_H_
#define GAITSHELF_SOLVER_ROBOT_LOCOMOTION_H_

#include "absl/status/statusor.h"

namespace gaitshelf::solver {

struct TransportInput {
  // The caller says which power it is: electrical input, or mechanical.
  double power_w = 0.0;
  double mass_kg = 0.0;
  double gravity_m_per_s2 = 0.0;
  double speed_m_per_s = 0.0;
};

// Returns the cost of transport P / (m g v), the energy to carry a unit of weight over a unit of
// distance, dimensionless. Speed counts by its size. It is not defined for a robot that stands.
//
// Errors:
//   kInvalidArgument  a value is not finite, or mass, gravity or the size of the speed is not more
//                     than 0
absl::StatusOr<double> CostOfTransport(const TransportInput& input);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_LOCOMOTION_H_
