// Draws orders that nobody tuned the planner for.
#ifndef GAITSHELF_TESTS_BENCH_ORDERS_H_
#define GAITSHELF_TESTS_BENCH_ORDERS_H_

#include <string>

#include "solver/plan/plan_gait.h"

namespace gaitshelf::bench {

// A robot of the demonstration with changed numbers, a surface and a task.
struct DrawnOrder {
  solver::PlanRequest request;
  std::string label;  // for people: robot, task, share of reach, frequency, friction
};

// Returns order `index` of the series that rng names; the same on every machine.
//
// The robot is one of the demonstration's. Five factors, each even within 0.75 to 1.25, change its
// masses, its stiffnesses, its actuator gains, all of its lengths but those of films, and the
// damping; inertias follow masses and lengths. The stride frequency is even in its logarithm within
// 1 to 40 Hz, friction is even within 0.1 to 1, the size of the task within 20 to 95 % of reach:
//   half are advances straight ahead: of what the legs reach at half duty;
//   18 % turn, sidestep or both: the outer feet go that way;
//   10 % hop: of the rise that the lift drives' work allows;
//   10 % hop over a distance: of that rise and of what friction and swing travel then allow, which
//        bound it like an ellipse;
//   10 % stand: of the lift travel, half of them tilted;
//    2 % are farthest advances, which have no size and take long.
DrawnOrder DrawOrder(int rng, int index);

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_ORDERS_H_
