// What can be said of a leg whatever its form.
#ifndef GAITSHELF_SOLVER_ROBOT_LEG_FORM_H_
#define GAITSHELF_SOLVER_ROBOT_LEG_FORM_H_

#include "gaitshelf/v1/robot.pb.h"

#include "solver/robot/triple.h"

namespace gaitshelf::solver {

// Mass that the leg adds to the body's, kg.
double LegMass(const v1::Leg& leg);

// Foot position at rest, m.
const Triple& RestFoot(const v1::Leg& leg);

// Returns the bimorph of lift (0) or swing (1); null when the coordinate is passive.
const v1::Bimorph* BimorphOf(const v1::Leg& leg, int coordinate);

// Mass of body and legs, kg.
double TotalMass(const v1::Robot& robot);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_LEG_FORM_H_
