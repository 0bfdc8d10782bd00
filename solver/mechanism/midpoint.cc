#include "solver/mechanism/midpoint.h"

namespace gaitshelf::solver {

void LagrangianTerms::Resize(Eigen::Index n) {
  force.setZero(n);
  momentum.setZero(n);
  force_q.setZero(n, n);
  force_v.setZero(n, n);
  momentum_q.setZero(n, n);
  momentum_v.setZero(n, n);
}

void MidpointInterval::Resize(Eigen::Index n) {
  left.setZero(n);
  right.setZero(n);
  left_q0.setZero(n, n);
  left_q1.setZero(n, n);
  right_q0.setZero(n, n);
  right_q1.setZero(n, n);
  terms.Resize(n);
}

void EvaluateMidpoint(const Lagrangian& system,
                      const Eigen::Ref<const Eigen::VectorXd>& q0,
                      const Eigen::Ref<const Eigen::VectorXd>& q1,
                      double h,
                      DerivativeOrder order,
                      MidpointInterval* interval) {
  const Eigen::VectorXd middle = 0.5 * (q0 + q1);
  const Eigen::VectorXd velocity = (q1 - q0) / h;
  LagrangianTerms& terms = interval->terms;
  system.Evaluate(middle, velocity, order, &terms);
  interval->left = 0.5 * terms.force - terms.momentum / h;
  interval->right = 0.5 * terms.force + terms.momentum / h;
  if (order == DerivativeOrder::kFirst) {
    return;
  }
  // d(middle)/dq0 = d(middle)/dq1 = 1/2; d(velocity)/dq1 = -d(velocity)/dq0 = 1/h.
  const double r = 1.0 / h;
  interval->left_q0 = 0.25 * terms.force_q - 0.5 * r * terms.momentum_q - 0.5 * r * terms.force_v +
                      r * r * terms.momentum_v;
  interval->left_q1 = 0.25 * terms.force_q - 0.5 * r * terms.momentum_q + 0.5 * r * terms.force_v -
                      r * r * terms.momentum_v;
  interval->right_q0 = 0.25 * terms.force_q + 0.5 * r * terms.momentum_q - 0.5 * r * terms.force_v -
                       r * r * terms.momentum_v;
  interval->right_q1 = 0.25 * terms.force_q + 0.5 * r * terms.momentum_q + 0.5 * r * terms.force_v +
                       r * r * terms.momentum_v;
}

}  // namespace gaitshelf::solver
