// Compiles legs with linkages into tables: their functions are fitted once by polynomials over the
// range of their two coordinates. Done once for a robot's digest; the tables are plain numbers in
// SI units that can be kept.
#ifndef GAITSHELF_SOLVER_LEG_COMPILE_LEG_H_
#define GAITSHELF_SOLVER_LEG_COMPILE_LEG_H_

#include "gaitshelf/v1/leg_table.pb.h"
#include "gaitshelf/v1/robot.pb.h"

#include "absl/status/statusor.h"

namespace gaitshelf::solver {

// Compiles a leg that has passed its check. The table's report has no leg name.
//
// Errors:
//   kInvalidArgument     names, references or arrays are not those of a checked leg
//   kFailedPrecondition  the loops are lost in the range or near it, or the functions are too
//                        curved for a fit
absl::StatusOr<v1::LegTable> CompileLeg(const v1::LinkageLeg& leg);

// Compiles all legs of a robot that have a linkage. Errors are those of CompileLeg, with the leg's
// name.
absl::StatusOr<v1::LegTables> CompileLegs(const v1::Robot& robot);

// Tells whether tables were made by this program's way of compiling for legs of these names. That
// they are of the very same robot is for the caller to know, by its digest.
bool TablesFit(const v1::LegTables& tables, const v1::Robot& robot);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_LEG_COMPILE_LEG_H_
