// Keeps the greatest loads inside a mechanism over a replay: bending and strain of flexures, forces
// in loops.
#ifndef GAITSHELF_SOLVER_REPLAY_MECHANISM_LOADS_H_
#define GAITSHELF_SOLVER_REPLAY_MECHANISM_LOADS_H_

#include <Eigen/Core>

#include "gaitshelf/v1/audit.pb.h"

#include "solver/leg/scale.h"
#include "solver/replay/whole_robot.h"

namespace gaitshelf::solver {

class MechanismLoads {
 public:
  // The robot must outlive this.
  MechanismLoads(const WholeRobot* robot, const Scale& scale) : robot_(*robot), scale_(scale) {}

  void Reset() { report_.Clear(); }

  // Takes note of one step.
  //   q            coordinates at its end
  //   loop_forces  two a loop, scaled; means over the step
  //   residual     of the loop equations at its end, scaled
  void Record(const Eigen::VectorXd& q,
              const Eigen::VectorXd& loop_forces,
              const Eigen::VectorXd& residual);

  v1::MechanismReport Report() const;

 private:
  void RecordFlexure(const WholeLeg& leg, const FlexureLabel& flexure, double angle_rad);

  const WholeRobot& robot_;
  Scale scale_;
  v1::MechanismReport report_;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_MECHANISM_LOADS_H_
