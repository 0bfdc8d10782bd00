// Smoothed complementarity laws of contact: one scalar law for the normal direction, one cone law
// for friction.
//
// Both are Fischer-Burmeister functions: zero exactly when their arguments are complementary up to
// the smoothing, and differentiable everywhere while the smoothing is positive.
#ifndef GAITSHELF_SOLVER_CONTACT_COMPLEMENTARITY_H_
#define GAITSHELF_SOLVER_CONTACT_COMPLEMENTARITY_H_

#include <Eigen/Core>

namespace gaitshelf::solver {

// a + b - sqrt(a^2 + b^2 + 2 eps^2): zero exactly when a > 0, b > 0 and a b = eps^2.
// Source: Fischer, Optimization 24 (1992) 269-284, with the smoothing of Kanzow (both from memory).
struct ScalarComplementarity {
  double value = 0.0;
  double by_a = 0.0;
  double by_b = 0.0;
};
ScalarComplementarity EvaluateScalarComplementarity(double a, double b, double eps);

// x + y - sqrt(x o x + y o y + 2 eps^2 e) in the Jordan algebra of the second-order cone in three
// dimensions, entry 0 the scalar part: zero exactly when x and y lie inside the cone and x o y =
// eps^2 e.
//
// With x = (mu f_n, f_t) and y = (s, v_t) this is Coulomb's law: the force stays in the cone, and
// while the foot slides the force opposes the sliding and is on the cone's edge (greatest
// dissipation); s is the sliding speed. Source: Fukushima, Luo and Tseng, SIAM J. Optim. 12 (2002)
// 436-460 (from memory).
struct ConeComplementarity {
  Eigen::Vector3d value;
  Eigen::Matrix3d by_x;
  Eigen::Matrix3d by_y;
};
ConeComplementarity EvaluateConeComplementarity(const Eigen::Vector3d& x,
                                                const Eigen::Vector3d& y,
                                                double eps);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_CONTACT_COMPLEMENTARITY_H_
