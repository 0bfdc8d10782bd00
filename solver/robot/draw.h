// Draws robots and surfaces from the uncertainties that their descriptions state.
#ifndef GAITSHELF_SOLVER_ROBOT_DRAW_H_
#define GAITSHELF_SOLVER_ROBOT_DRAW_H_

#include <random>

#include <google/protobuf/descriptor.h>
#include <google/protobuf/message.h>

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

namespace gaitshelf::solver {

// Multiplies a field of doubles, single or repeated, by a factor.
void ScaleNumbers(const google::protobuf::FieldDescriptor& field,
                  double factor,
                  google::protobuf::Message* message);

// Returns the robot's uncertainty, or the one that its absence stands for.
v1::RobotUncertainty StatedUncertainty(const v1::Robot& robot);

// Returns the robot with its masses, stiffnesses and actuator gains drawn from normal distributions
// that are cut off at three standard deviations. Each part of the description (the body, a leg, a
// coordinate, a bimorph) has draws of its own; masses and inertias of one part change together. The
// kind of a number is read from the unit in its field's name, so that this holds for every form of
// leg. Stops and the gains of the leg controller stay.
v1::Robot DrawRobot(const v1::Robot& robot, std::mt19937* generator);

// Returns the surface with its friction drawn in the same way; it never gets below 0.
v1::Surface DrawSurface(const v1::Surface& surface, std::mt19937* generator);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_DRAW_H_
