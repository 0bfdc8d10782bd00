// What a transition from one gait into another comes to: which knots it joins, and how many it has.
#ifndef GAITSHELF_SOLVER_ROBOT_TRANSITION_H_
#define GAITSHELF_SOLVER_ROBOT_TRANSITION_H_

#include <string>

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/task.pb.h"

#include "solver/robot/violation.h"

namespace gaitshelf::solver {

// The gaits that a transition joins.
struct TransitionGaits {
  v1::Gait from;
  v1::Gait to;
};

// Its knots are as far apart as those of the second gait.
struct TransitionGrid {
  int from_knot = 0;    // knot of the first gait that it starts at
  int to_knot = 0;      // knot of the second gait that it ends at
  double cycles = 0.0;  // that go by
  int knot_count = 0;
};

// The gaits must have passed CheckTransition.
TransitionGrid PlaceTransition(const v1::Transition& transition, const TransitionGaits& gaits);

// Returns what speaks against joining these gaits; fields are those of an order.
//   robot_digest, surface_digest   the versions that the order is for
Violations CheckTransition(const v1::GaitOrder& order,
                           const std::string& robot_digest,
                           const std::string& surface_digest,
                           const TransitionGaits& gaits);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_TRANSITION_H_
