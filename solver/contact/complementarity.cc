#include "solver/contact/complementarity.h"

#include <algorithm>
#include <cmath>

#include <Eigen/LU>

namespace gaitshelf::solver {
namespace {

// Matrix of the Jordan product: Arrow(x) y = x o y.
Eigen::Matrix3d Arrow(const Eigen::Vector3d& x) {
  Eigen::Matrix3d arrow = x(0) * Eigen::Matrix3d::Identity();
  arrow.block<2, 1>(1, 0) = x.tail<2>();
  arrow.block<1, 2>(0, 1) = x.tail<2>().transpose();
  return arrow;
}

// Square root in the Jordan algebra of a point inside the cone.
Eigen::Vector3d JordanRoot(const Eigen::Vector3d& w) {
  const double determinant = std::max(w(0) * w(0) - w.tail<2>().squaredNorm(), 0.0);
  const double t = std::sqrt(2.0 * w(0) + 2.0 * std::sqrt(determinant));
  return {0.5 * t, w(1) / t, w(2) / t};
}

}  // namespace

ScalarComplementarity EvaluateScalarComplementarity(double a, double b, double eps) {
  const double root = std::sqrt(a * a + b * b + 2.0 * eps * eps);
  return {a + b - root, 1.0 - a / root, 1.0 - b / root};
}

ConeComplementarity EvaluateConeComplementarity(const Eigen::Vector3d& x,
                                                const Eigen::Vector3d& y,
                                                double eps) {
  const Eigen::Matrix3d arrow_x = Arrow(x);
  const Eigen::Matrix3d arrow_y = Arrow(y);
  Eigen::Vector3d w = arrow_x * x + arrow_y * y;
  w(0) += 2.0 * eps * eps;
  const Eigen::Vector3d root = JordanRoot(w);
  // root o root = w, so Arrow(root) d(root) = Arrow(x) dx + Arrow(y) dy.
  const Eigen::Matrix3d inverse = Arrow(root).inverse();
  ConeComplementarity law;
  law.value = x + y - root;
  law.by_x = Eigen::Matrix3d::Identity() - inverse * arrow_x;
  law.by_y = Eigen::Matrix3d::Identity() - inverse * arrow_y;
  return law;
}

}  // namespace gaitshelf::solver
