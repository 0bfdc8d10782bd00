// The robot with every link and every flexure: a free body from which linkages hang, loops left to
// the caller as equations.
//
// Written for the replay alone, from the linkages themselves: nothing of it goes through the legs'
// compiled functions. Coordinates: (x, y, z, roll, pitch, yaw) of the body frame as in RobotModel,
// then all angles of each leg. All quantities are in the units of the outline's Scale.
#ifndef GAITSHELF_SOLVER_REPLAY_WHOLE_ROBOT_H_
#define GAITSHELF_SOLVER_REPLAY_WHOLE_ROBOT_H_

#include <string>
#include <vector>

#include <Eigen/Core>

#include "gaitshelf/v1/robot.pb.h"

#include "absl/status/statusor.h"
#include "solver/leg/attitude.h"
#include "solver/leg/robot_model.h"
#include "solver/leg/stop.h"
#include "solver/mechanism/linkage_dynamics.h"
#include "solver/replay/arrow_system.h"
#include "solver/robot/leg_linkage.h"

namespace gaitshelf::solver {

// One leg with what the replay needs beside its dynamics.
struct WholeLeg {
  std::string name;
  LegLinkage description;  // SI units; for names and strains
  LinkageDynamics dynamics;
  // Coordinate at the foot per angle, lift and swing.
  Eigen::Vector2d length_per_rad;
  std::array<StoppedTravel, 2> travels;
  Eigen::Index first = 0;  // index of its first angle among the coordinates
};

// Where everything is.
struct WholePlace {
  Attitude attitude;
  Eigen::Vector3d origin;
  std::vector<LinkagePose> legs;
};

struct WholeTerms {
  Eigen::VectorXd momentum;  // dL/dv
  Eigen::VectorXd force;     // dL/dq less damping
  LinkageTerms leg;          // work space
};

class WholeRobot {
 public:
  // True when every leg is a linkage, and the body is free.
  static bool Fits(const v1::Robot& robot);

  // Takes the linkages from the description of a robot that has passed its check; drives, friction
  // and gravity from the outline, a model of the same robot.
  //
  // Errors:
  //   kInvalidArgument     a leg is no linkage, or not as its check left it
  //   kFailedPrecondition  loop equations are dependent in the rest posture
  static absl::StatusOr<WholeRobot> Create(const v1::Robot& robot, const RobotModel& outline);

  Eigen::Index coordinate_count() const { return coordinate_count_; }
  Eigen::Index loop_equation_count() const { return loop_equation_count_; }
  Eigen::Index foot_count() const {
    return static_cast<Eigen::Index>(legs_.size() + body_feet_.size());
  }
  const std::vector<WholeLeg>& legs() const { return legs_; }
  double total_mass() const { return total_mass_; }
  double friction() const { return friction_; }
  const Eigen::Vector3d& gravity() const { return gravity_; }

  // Returns the coordinates, loops closed, for coordinates of the outline.
  //
  // Errors:
  //   kOutOfRange  a leg cannot go there
  absl::StatusOr<Eigen::VectorXd> Close(const Eigen::VectorXd& outline_position) const;
  // Returns the rates, loops kept closed, at such coordinates for rates of the outline's.
  Eigen::VectorXd CloseRates(const Eigen::VectorXd& q,
                             const Eigen::VectorXd& outline_velocity) const;
  // The body's coordinates, and the two angles of each leg as they are measured at its foot; the
  // same for rates.
  Eigen::VectorXd Outline(const Eigen::VectorXd& q) const;

  void EvaluatePlace(const Eigen::VectorXd& q, WholePlace* place) const;
  // The place is that of q.
  void EvaluateTerms(const WholePlace& place,
                     const Eigen::VectorXd& q,
                     const Eigen::VectorXd& v,
                     WholeTerms* terms) const;
  // Loop equations and their derivatives by the leg's own angles, one matrix a leg.
  void EvaluateLoops(const WholePlace& place,
                     Eigen::VectorXd* residual,
                     std::vector<Eigen::MatrixXd>* jacobian) const;
  // Position of a foot in the surface frame and its derivative, 3 x n.
  void EvaluateFoot(const WholePlace& place,
                    Eigen::Index foot,
                    Eigen::Vector3d* position,
                    Eigen::Ref<Eigen::MatrixXd> jacobian) const;
  // Generalised force of the drives at u.
  void DriveForce(const WholePlace& place, const Eigen::VectorXd& u, Eigen::VectorXd* force) const;

  // Inertia / h^2 + damping / (2 h) + stiffness / 4: what a midpoint step resists a change of its
  // end with, but for what is small with the step (gyroscopic and geometric terms).
  void EvaluateImpedance(const WholePlace& place,
                         const Eigen::VectorXd& q,
                         double h,
                         ArrowBlocks* impedance) const;

  double Energy(const Eigen::VectorXd& q, const Eigen::VectorXd& v) const;
  // Power lost in flexures, at least 0.
  double DampingPower(const Eigen::VectorXd& v) const;

 private:
  WholeRobot() = default;
  absl::Status AppendLeg(const v1::Leg& leg, const Scale& scale);

  Eigen::Index coordinate_count_ = 6;
  Eigen::Index loop_equation_count_ = 0;
  double body_mass_ = 0.0;
  Eigen::Vector3d body_first_moment_ = Eigen::Vector3d::Zero();
  Eigen::Matrix3d body_inertia_ = Eigen::Matrix3d::Zero();  // about the body frame's origin
  double total_mass_ = 0.0;
  double friction_ = 0.0;
  Eigen::Vector3d gravity_ = Eigen::Vector3d::Zero();
  std::vector<WholeLeg> legs_;
  std::vector<Eigen::Vector3d> body_feet_;
  std::vector<Drive> drives_;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_WHOLE_ROBOT_H_
