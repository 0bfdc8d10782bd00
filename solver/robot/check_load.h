// Whether the drives of a leg fit the weight of its robot: faults of units more than of design.
#ifndef GAITSHELF_SOLVER_ROBOT_CHECK_LOAD_H_
#define GAITSHELF_SOLVER_ROBOT_CHECK_LOAD_H_

#include <string>

#include "gaitshelf/v1/robot.pb.h"

#include "solver/robot/violation.h"

namespace gaitshelf::solver {

// Adds a fault when a bimorph's push over its voltage range, seen at the foot, is beyond 100 times
// the robot's weight: a gain in mN/V given as N/V makes a robot that throws itself away.
//   tip_rate  tip travel per travel of the foot; not finite or 0 where that is a fault of its own
void AddPushFaults(const v1::Robot& robot,
                   const v1::Bimorph& described,
                   double tip_rate,
                   const std::string& path,
                   Violations* violations);

// Adds the faults of the drives of a linkage leg that is without fault itself: push as above, and a
// share of the weight that flexures and lift drive cannot hold within the range.
void AddLinkageLoadFaults(const v1::Robot& robot,
                          const v1::LinkageLeg& leg,
                          const std::string& path,
                          Violations* violations);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_CHECK_LOAD_H_
