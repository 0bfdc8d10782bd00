// The straight posture of a robot (all leg coordinates at 0) as an equilibrium: foot forces, drive
// voltages that hold it, and what the legs' travel and lift drives leave for walking.
//
// Static only; what the robot does near the posture is the matter of modes.h.
#ifndef GAITSHELF_SOLVER_LEG_STANDING_H_
#define GAITSHELF_SOLVER_LEG_STANDING_H_

#include <vector>

#include <Eigen/Core>

#include "absl/status/statusor.h"
#include "solver/leg/robot_model.h"

namespace gaitshelf::solver {

// How the robot is held while it is looked at.
enum class FootCondition {
  kFreeFlight,  // no foot touches; the frame falls with the robot
  kSliding,     // feet keep their height and slide without friction
  kSticking,    // feet do not move at all
  kClamped,     // the body is held, the feet are free
};

// Quantities are in the units of the model's Scale.
struct Standing {
  FootCondition condition = FootCondition::kFreeFlight;
  Eigen::VectorXd position;         // coordinates of the straight posture
  std::vector<Eigen::Index> feet;   // feet that touch
  std::vector<double> normal_load;  // load of each of them, more than 0 but for rounding
  Eigen::VectorXd drive;            // u of each drive that holds the posture; may be out of range
  // Force on each coordinate that no drive can balance: a passive leg coordinate under load. It is
  // taken as preload of the flexures.
  Eigen::VectorXd preload;
};

// Finds the equilibrium on a level surface. Of several ways in which more than three feet can carry
// the robot it takes the one with the least sum of squared loads.
//
// Errors:
//   kFailedPrecondition   sliding or sticking feet, and the robot cannot stand straight: too few
//                         feet, the centre of mass outside of them, a clamped body, a slope
absl::StatusOr<Standing> FindStanding(const RobotModel& model, FootCondition condition);

// Returns the share of lift drive force that is left while the share duty_ratio of the feet carries
// the robot: 1 when nothing is needed, below 0 when the drives are too weak. Absent drives do not
// count; 1 when there are none.
double LiftMargin(const RobotModel& model, const Standing& standing, double duty_ratio);

// Returns the largest advance per cycle without slip that the swing travels allow, scaled length.
//
// A standing foot keeps its place for the share duty_ratio of the cycle while the body passes over
// it evenly, so the body moves duty_ratio * advance within the travel:
//   advance = least swing travel along the body / duty_ratio
// Own derivation. 0 when no leg has a swing drive.
double AdvanceReach(const RobotModel& model, double duty_ratio);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_LEG_STANDING_H_
