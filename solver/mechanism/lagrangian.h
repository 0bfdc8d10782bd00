// The face of a mechanical system towards the integrator: derivatives of its Lagrangian at one
// state.
#ifndef GAITSHELF_SOLVER_MECHANISM_LAGRANGIAN_H_
#define GAITSHELF_SOLVER_MECHANISM_LAGRANGIAN_H_

#include <Eigen/Core>

namespace gaitshelf::solver {

// Derivatives of L(q, v) with the damping force D(q) v taken in, n coordinates.
//
//   momentum = dL/dv                 n
//   force    = dL/dq - D(q) v        n
// The four matrices are n x n: row i is the derivative of entry i.
struct LagrangianTerms {
  Eigen::VectorXd force;
  Eigen::VectorXd momentum;
  Eigen::MatrixXd force_q;
  Eigen::MatrixXd force_v;
  Eigen::MatrixXd momentum_q;
  Eigen::MatrixXd momentum_v;

  void Resize(Eigen::Index n);
};

enum class DerivativeOrder { kFirst, kSecond };

class Lagrangian {
 public:
  virtual ~Lagrangian() = default;

  // Number of coordinates, n.
  virtual Eigen::Index coordinate_count() const = 0;

  // Fills the two vectors, and the four matrices when order is kSecond. q and v have n entries.
  virtual void Evaluate(const Eigen::Ref<const Eigen::VectorXd>& q,
                        const Eigen::Ref<const Eigen::VectorXd>& v,
                        DerivativeOrder order,
                        LagrangianTerms* terms) const = 0;

  // Kinetic plus potential energy.
  virtual double Energy(const Eigen::Ref<const Eigen::VectorXd>& q,
                        const Eigen::Ref<const Eigen::VectorXd>& v) const = 0;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MECHANISM_LAGRANGIAN_H_
