// The dynamics of a linkage that hangs on a moving body: momenta, forces and inertia of all its
// angles, loops left open.
//
// One pass from the body to the tips gives the velocities, one pass back sums momenta over
// everything that a hinge carries (own derivation):
//   V_i = V_parent + J_i rate_i         J_i = (axis, point x axis), twist about the body's origin
//   dT/drate_j  = J_j . H_j             H_j: momentum of all links that hinge j carries
//   dT/dangle_j = H_j . [V_parent, J_j] [.,.]: the commutator of twists
// All quantities are in the body frame, vectors about its origin. Units are those of the linkage.
#ifndef GAITSHELF_SOLVER_MECHANISM_LINKAGE_DYNAMICS_H_
#define GAITSHELF_SOLVER_MECHANISM_LINKAGE_DYNAMICS_H_

#include <vector>

#include <Eigen/Core>

#include "solver/mechanism/linkage.h"

namespace gaitshelf::solver {

// How the body moves, and gravity as it sees it. At rest without gravity by default.
struct BodyMotion {
  Eigen::Vector3d angular = Eigen::Vector3d::Zero();
  Eigen::Vector3d linear = Eigen::Vector3d::Zero();  // of its origin
  Eigen::Vector3d gravity = Eigen::Vector3d::Zero();
};

// Derivatives of L = T - V of the links, n angles.
struct LinkageTerms {
  Eigen::VectorXd momentum;  // dL/drate, n
  Eigen::VectorXd force;     // dL/dangle less damping, n
  // Momentum and first moment of mass of all links, pins left out: their mass moves along with the
  // body as part of it.
  Eigen::Vector3d angular_momentum;
  Eigen::Vector3d linear_momentum;
  Eigen::Vector3d first_moment;
};

struct LinkageInertia {
  Eigen::MatrixXd mass;                               // n x n
  Eigen::Matrix<double, 6, Eigen::Dynamic> coupling;  // momentum, angular then linear, per rate
  Eigen::Matrix3d inertia = Eigen::Matrix3d::Zero();  // of all links as one rigid body
  Eigen::Vector3d first_moment = Eigen::Vector3d::Zero();
  // Second derivative of the springs by the angles, without the curvature of the pins' paths.
  Eigen::MatrixXd stiffness;
};

class LinkageDynamics {
 public:
  explicit LinkageDynamics(const Linkage& linkage);

  const Linkage& linkage() const { return linkage_; }
  double mass() const { return mass_; }
  // n x n, constant: damping of hinges and closing hinges by the rates.
  const Eigen::MatrixXd& damping() const { return damping_; }
  // Rows are loops: the angle of each closing hinge per tree angle.
  const Eigen::MatrixXd& closing_signs() const { return closing_signs_; }

  // The pose is that of the angles (EvaluatePose).
  void EvaluateTerms(const LinkagePose& pose,
                     const Eigen::Ref<const Eigen::VectorXd>& angles,
                     const Eigen::Ref<const Eigen::VectorXd>& rates,
                     const BodyMotion& motion,
                     LinkageTerms* terms) const;
  void EvaluateInertia(const LinkagePose& pose, LinkageInertia* inertia) const;

  // Energy of flexures and pins.
  double SpringEnergy(const LinkagePose& pose,
                      const Eigen::Ref<const Eigen::VectorXd>& angles) const;

  // Travel of a pin from the rest posture along its direction, and its derivative by the angles.
  double PinTravel(const LinkagePose& pose, size_t index) const;
  void PinTravelJacobian(const LinkagePose& pose, size_t index, Eigen::RowVectorXd* jacobian) const;

 private:
  void AddPins(const LinkagePose& pose,
               const Eigen::Ref<const Eigen::VectorXd>& rates,
               LinkageTerms* terms) const;

  Linkage linkage_;
  double mass_ = 0.0;
  Eigen::MatrixXd stiffness_;
  Eigen::MatrixXd damping_;
  Eigen::MatrixXd closing_signs_;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MECHANISM_LINKAGE_DYNAMICS_H_
