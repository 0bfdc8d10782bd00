// The robot on a surface as one Lagrangian system: a floating (or clamped) body with legs of two
// coordinates each.
//
// Coordinates: (x, y, z, roll, pitch, yaw) of the body frame in the surface frame, left out for a
// clamped body, then lift and swing of each leg. Attitude: R = Rz(yaw) Ry(pitch) Rx(roll). All
// quantities are in the units of the Scale.
#ifndef GAITSHELF_SOLVER_LEG_ROBOT_MODEL_H_
#define GAITSHELF_SOLVER_LEG_ROBOT_MODEL_H_

#include <memory>
#include <string>
#include <utility>
#include <vector>

#include <Eigen/Core>

#include "gaitshelf/v1/leg_table.pb.h"
#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "absl/status/statusor.h"
#include "solver/base/constants.h"
#include "solver/leg/leg_model.h"
#include "solver/leg/scale.h"
#include "solver/mechanism/lagrangian.h"

namespace gaitshelf::solver {

// One drive: the generalised force on its coordinate is travel_rate * half_force * u, where u = (V
// - bias) / half range, so that u runs from lower to upper.
struct Drive {
  bool is_present = false;
  double half_force = 0.0;  // force at the tip for u = 1, scaled
  double half_range_v = 1.0;
  double bias_v = 0.0;
  double lower = -1.0;
  double upper = 1.0;
  double slew_v_per_s = 0.0;
  double capacitance_f = 0.0;
};

// Travel of one coordinate, scaled.
struct Travel {
  double lower = 0.0;
  double upper = 0.0;
};

// Position of one foot with its derivative, surface frame.
struct FootKinematics {
  Eigen::Vector3d position;
  Eigen::Matrix3Xd jacobian;  // 3 x n
};

class RobotModel final : public Lagrangian {
 public:
  // Builds the model of a robot that has passed its check. Legs with a linkage are compiled, unless
  // tables that were made of this very robot are given.
  //
  // Errors:
  //   kInvalidArgument     an array of the description has a wrong size, or the tables do not fit
  //   it kFailedPrecondition  a leg cannot be compiled
  static absl::StatusOr<RobotModel> Create(const v1::Robot& described,
                                           const v1::Surface& surface,
                                           const Scale& scale,
                                           const v1::LegTables* leg_tables = nullptr);

  Eigen::Index coordinate_count() const override { return base_count() + 2 * leg_count(); }
  void Evaluate(const Eigen::Ref<const Eigen::VectorXd>& q,
                const Eigen::Ref<const Eigen::VectorXd>& v,
                DerivativeOrder order,
                LagrangianTerms* terms) const override;
  double Energy(const Eigen::Ref<const Eigen::VectorXd>& q,
                const Eigen::Ref<const Eigen::VectorXd>& v) const override;

  // Coordinates of the whole mechanism that this model stands for, every flexure of a linkage
  // counted, and the loop equations between them.
  Eigen::Index mechanism_coordinate_count() const { return mechanism_coordinate_count_; }
  Eigen::Index loop_equation_count() const { return loop_equation_count_; }
  // The worst fit error of the legs that have a linkage; 0 when there are none.
  double compile_error_ratio() const { return compile_error_ratio_; }

  // 6 for a free body, 0 for a clamped one.
  Eigen::Index base_count() const { return is_clamped_ ? 0 : 6; }
  Eigen::Index leg_count() const { return static_cast<Eigen::Index>(legs_.size()); }
  // Legs' feet first, then body feet.
  Eigen::Index foot_count() const {
    return leg_count() + static_cast<Eigen::Index>(body_feet_.size());
  }
  // Two a leg: lift, swing.
  Eigen::Index drive_count() const { return 2 * leg_count(); }
  const std::vector<Drive>& drives() const { return drives_; }
  const std::vector<Travel>& travels() const { return travels_; }
  double friction() const { return friction_; }
  double total_mass() const { return total_mass_; }
  const Scale& scale() const { return scale_; }
  // Gravity in the surface frame.
  const Eigen::Vector3d& gravity() const { return gravity_; }

  // Returns the same robot without gravity: in a frame that falls with it there is none.
  RobotModel InFreeFall() const;

  // Coordinates of the posture with all leg coordinates at 0 and the lowest foot on the surface.
  Eigen::VectorXd ReferencePosture() const;

  // Evaluates one foot. The jacobian is left alone when it is not wanted.
  void EvaluateFoot(const Eigen::Ref<const Eigen::VectorXd>& q,
                    Eigen::Index foot,
                    bool with_jacobian,
                    FootKinematics* kinematics) const;
  // Adds the second derivative of (force . position of the foot) to an n x n matrix: d(J'
  // force)/dq.
  void AddFootHessian(const Eigen::Ref<const Eigen::VectorXd>& q,
                      Eigen::Index foot,
                      const Eigen::Vector3d& force,
                      Eigen::MatrixXd* hessian) const;

  // Generalised force of the drives at u, n; and its derivatives by u (n x drive_count) and by q (n
  // x n).
  void DriveForce(const Eigen::Ref<const Eigen::VectorXd>& q,
                  const Eigen::Ref<const Eigen::VectorXd>& u,
                  Eigen::VectorXd* force) const;
  void DriveJacobian(const Eigen::Ref<const Eigen::VectorXd>& q, Eigen::MatrixXd* by_u) const;
  void AddDriveHessian(const Eigen::Ref<const Eigen::VectorXd>& q,
                       const Eigen::Ref<const Eigen::VectorXd>& u,
                       Eigen::MatrixXd* hessian) const;

  // Power lost in damping at (q, v), at least 0.
  double DampingPower(const Eigen::Ref<const Eigen::VectorXd>& q,
                      const Eigen::Ref<const Eigen::VectorXd>& v) const;

 private:
  RobotModel() = default;

  void AppendCompiledLeg(const v1::Leg& leg, const v1::LegTable& table);
  void AppendLumpedLeg(const v1::Leg& leg);

  bool is_clamped_ = false;
  Eigen::Index mechanism_coordinate_count_ = 0;
  Eigen::Index loop_equation_count_ = 0;
  double compile_error_ratio_ = 0.0;
  double clamp_height_ = 0.0;
  double body_mass_ = 0.0;
  double total_mass_ = 0.0;
  double friction_ = 0.0;
  Eigen::Vector3d body_center_ = Eigen::Vector3d::Zero();
  Eigen::Matrix3d body_inertia_ = Eigen::Matrix3d::Zero();  // about the body frame's origin
  Eigen::Vector3d gravity_ = Eigen::Vector3d::Zero();
  Scale scale_;
  std::vector<std::shared_ptr<const LegModel>> legs_;
  std::vector<Eigen::Vector3d> body_feet_;
  std::vector<Drive> drives_;
  std::vector<Travel> travels_;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_LEG_ROBOT_MODEL_H_
