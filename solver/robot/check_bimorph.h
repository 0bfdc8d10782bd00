// Rules of a bimorph that take several of its fields: it is given by numbers or by layers, not
// both.
#ifndef GAITSHELF_SOLVER_ROBOT_CHECK_BIMORPH_H_
#define GAITSHELF_SOLVER_ROBOT_CHECK_BIMORPH_H_

#include <string>

#include "gaitshelf/v1/robot.pb.h"

#include "solver/robot/violation.h"

namespace gaitshelf::solver {

// Adds the faults of a bimorph whose path is given, those of its voltages left out.
void AddBimorphFaults(const v1::Bimorph& bimorph, const std::string& path, Violations* violations);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_CHECK_BIMORPH_H_
