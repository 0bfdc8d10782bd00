// One interval of the midpoint variational integrator.
//
//   L_d(q0, q1) = h L((q0 + q1) / 2, (q1 - q0) / h), forces split half and half to both ends.
// With P = dL/dv and G = dL/dq - D v at the midpoint:
//   left  = G / 2 - P / h     right = G / 2 + P / h
// and a trajectory obeys right(k-1, k) + left(k, k+1) + (other forces at knot k) = 0. Both are
// forces: the discrete Euler-Lagrange equation divided by h. Source: Marsden and West, Acta
// Numerica 10 (2001) 357-514 (from memory).
#ifndef GAITSHELF_SOLVER_MECHANISM_MIDPOINT_H_
#define GAITSHELF_SOLVER_MECHANISM_MIDPOINT_H_

#include <Eigen/Core>

#include "solver/mechanism/lagrangian.h"

namespace gaitshelf::solver {

// A knot's position and the discrete momentum that its last interval brings to it.
struct KnotState {
  Eigen::VectorXd position;
  Eigen::VectorXd momentum;
};

// The two ends' forces and their derivatives by the ends' coordinates, n and n x n.
struct MidpointInterval {
  Eigen::VectorXd left;
  Eigen::VectorXd right;
  Eigen::MatrixXd left_q0;
  Eigen::MatrixXd left_q1;
  Eigen::MatrixXd right_q0;
  Eigen::MatrixXd right_q1;
  LagrangianTerms terms;  // at the midpoint; also the work space

  void Resize(Eigen::Index n);
};

// Evaluates the interval from q0 to q1, which take the time h. The matrices are filled when order
// is kSecond.
void EvaluateMidpoint(const Lagrangian& system,
                      const Eigen::Ref<const Eigen::VectorXd>& q0,
                      const Eigen::Ref<const Eigen::VectorXd>& q1,
                      double h,
                      DerivativeOrder order,
                      MidpointInterval* interval);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MECHANISM_MIDPOINT_H_
