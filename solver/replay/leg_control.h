// The leg controller of a robot: feed-forward voltage plus proportional and rate feedback, limited
// as the drive limits it. Works in volts and the model's scaled units.
#ifndef GAITSHELF_SOLVER_REPLAY_LEG_CONTROL_H_
#define GAITSHELF_SOLVER_REPLAY_LEG_CONTROL_H_

#include <Eigen/Core>

#include "gaitshelf/v1/robot.pb.h"

#include "solver/leg/robot_model.h"

namespace gaitshelf::solver {

class LegControl {
 public:
  // The model must outlive the controller. gain_ratio scales all gains.
  LegControl(const v1::LegController& gains, double gain_ratio, const RobotModel* model);

  // Sets the voltage that the next update's slew limit starts from, V.
  void Start(const Eigen::VectorXd& voltage_v);

  // Takes one sample and returns the drive u to hold until the next.
  //   q, v             the robot's coordinates and rates as measured
  //   target, rate     planned leg coordinates and rates
  //   feed_forward_v   planned voltage
  //   period           time since the last sample, scaled
  const Eigen::VectorXd& Update(const Eigen::VectorXd& q,
                                const Eigen::VectorXd& v,
                                const Eigen::VectorXd& target,
                                const Eigen::VectorXd& rate,
                                const Eigen::VectorXd& feed_forward_v,
                                double period);

  // Voltage of the last sample, V.
  const Eigen::VectorXd& voltage_v() const { return voltage_v_; }

 private:
  const RobotModel& model_;
  Eigen::VectorXd gain_;       // V per unit of length
  Eigen::VectorXd rate_gain_;  // V per unit of speed
  Eigen::VectorXd voltage_v_;
  Eigen::VectorXd u_;
  Eigen::VectorXd sign_;  // of the force on a coordinate per voltage, in the straight posture
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_LEG_CONTROL_H_
