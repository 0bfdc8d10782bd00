// Rules of a leg with a linkage that take several of its fields.
#ifndef GAITSHELF_SOLVER_ROBOT_CHECK_LINKAGE_H_
#define GAITSHELF_SOLVER_ROBOT_CHECK_LINKAGE_H_

#include <string>

#include "gaitshelf/v1/robot.pb.h"

#include "solver/robot/violation.h"

namespace gaitshelf::solver {

// Adds the faults of one linkage leg, whose path is given. Faults of the loops' motion are looked
// for when there are no others, since it needs a whole linkage.
void AddLinkageFaults(const v1::LinkageLeg& leg, const std::string& path, Violations* violations);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_CHECK_LINKAGE_H_
