// Gain, stiffness and capacitance of a bimorph that is described by its layers.
#ifndef GAITSHELF_SOLVER_ROBOT_BIMORPH_H_
#define GAITSHELF_SOLVER_ROBOT_BIMORPH_H_

#include "gaitshelf/v1/robot.pb.h"

namespace gaitshelf::solver {

// Returns the bimorph as given by numbers: its layers, if it has any, worked out and taken away.
//
// A field E bends the two layers, whose strains are opposite, by the moment M = E_p d31 E w t (t +
// t_s), where E t is the voltage on a layer; the blocked tip carries 3 M / (2 L) and the tip is 3
// (E I) / L^3 stiff. With two layers alone this is the well-known 3 d31 V L^2 / (4 t^2) of free
// travel. Own derivation, by beam theory; of the same form as J. G. Smits and W. Choi, IEEE Trans.
// UFFC 38 (1991) 256-270 (from memory).
//
// The layers have passed their check, or the numbers mean nothing.
v1::Bimorph WithoutLayers(const v1::Bimorph& bimorph);

// Returns the robot with every bimorph of it given by numbers.
v1::Robot WithoutLayers(const v1::Robot& robot);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_BIMORPH_H_
