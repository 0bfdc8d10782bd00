#include "solver/leg/linkage_functions.h"

#include <algorithm>

#include <Eigen/Geometry>

namespace gaitshelf::solver {
namespace {

using F = LegFunction;
using Eigen::Matrix3d;
using Eigen::Matrix3Xd;
using Eigen::Vector2d;
using Eigen::Vector3d;
using Matrix32 = Eigen::Matrix<double, 3, 2>;

// Adds factor * a a' to three entries 00 11 01.
void AddSquare(double factor, const Vector2d& a, double* out) {
  out[0] += factor * a[0] * a[0];
  out[1] += factor * a[1] * a[1];
  out[2] += factor * a[0] * a[1];
}

// Adds one rigid link; see LegFunction for the kinetic energy it is part of.
void AddLink(const Linkage& linkage,
             const ClosedPosture& posture,
             const Eigen::MatrixXd& rates,
             int index,
             LegValues* values) {
  const LinkageLink& link = linkage.links[static_cast<size_t>(index)];
  Matrix3Xd jacobian;
  TurnJacobian(linkage, posture.pose, index, &jacobian);
  const Matrix32 turn = jacobian * rates;
  PointJacobian(linkage, posture.pose, index, link.center, &jacobian);
  const Matrix32 way = jacobian * rates;
  const Matrix3d rotation = posture.pose.RotationOf(index);
  const Matrix3d about_center = rotation * link.inertia * rotation.transpose();
  const Vector3d center = posture.pose.Place(index, link.center);
  const Matrix3d inertia = about_center + link.mass * (center.squaredNorm() * Matrix3d::Identity() -
                                                       center * center.transpose());

  LegValues& v = *values;
  LegVector(v, F::kFirstMoment) += link.mass * center;
  const double entries[6] = {
      inertia(0, 0), inertia(1, 1), inertia(2, 2), inertia(0, 1), inertia(0, 2), inertia(1, 2)};
  for (size_t i = 0; i < 6; ++i) {
    v[F::kInertia + i] += entries[i];
  }
  for (int j = 0; j < 2; ++j) {
    const Vector3d momentum = link.mass * way.col(j);
    LegVector(v, F::kAngularRate + 3 * j) += about_center * turn.col(j) + center.cross(momentum);
    LegVector(v, F::kMomentumRate + 3 * j) += momentum;
  }
  const Eigen::Matrix2d rate_rate =
      link.mass * way.transpose() * way + turn.transpose() * about_center * turn;
  v[F::kRateRate] += rate_rate(0, 0);
  v[F::kRateRate + 1] += rate_rate(1, 1);
  v[F::kRateRate + 2] += rate_rate(0, 1);
}

}  // namespace

LegValues LinkageFunctions(const Linkage& linkage,
                           const ClosedPosture& posture,
                           const Vector2d& rad_per_m) {
  LegValues v{};
  const Eigen::MatrixXd rates = posture.rates * rad_per_m.asDiagonal();
  for (int i = 0; i < static_cast<int>(linkage.links.size()); ++i) {
    const LinkageLink& link = linkage.links[static_cast<size_t>(i)];
    AddLink(linkage, posture, rates, i, &v);
    v[F::kPotential] += 0.5 * link.stiffness * posture.angles[i] * posture.angles[i];
    AddSquare(link.damping, rates.row(i).transpose(), &v[F::kDamping]);
  }
  for (const LoopHinge& loop : linkage.loops) {
    const Eigen::VectorXd signs = HingeSigns(linkage, loop);
    const double angle = signs.dot(posture.angles);
    v[F::kPotential] += 0.5 * loop.stiffness * angle * angle;
    AddSquare(loop.damping, rates.transpose() * signs, &v[F::kDamping]);
  }
  for (size_t i = 0; i < std::min<size_t>(linkage.pins.size(), 2); ++i) {
    const LinkagePin& pin = linkage.pins[i];
    if (!pin.is_present) {
      continue;
    }
    Matrix3Xd jacobian;
    PointJacobian(linkage, posture.pose, pin.link, pin.point, &jacobian);
    const double travel = pin.direction.dot(posture.pose.Place(pin.link, pin.point) - pin.point);
    v[F::kTravel + i] = travel;
    v[F::kPotential] += 0.5 * pin.stiffness * travel * travel;
    AddSquare(
        pin.mass, (pin.direction.transpose() * jacobian * rates).transpose(), &v[F::kRateRate]);
  }
  LegVector(v, F::kFoot) = posture.pose.Place(linkage.foot_link, linkage.foot);
  return v;
}

LegValues FunctionUnits(const Scale& scale) {
  LegValues units{};
  const auto fill = [&units](int first, int count, double unit) {
    std::fill_n(units.begin() + first, count, unit);
  };
  fill(F::kFirstMoment, 3, scale.mass_kg * scale.length_m);
  fill(F::kInertia, 6, scale.inertia_kg_m2());
  fill(F::kAngularRate, 6, scale.mass_kg * scale.length_m);
  fill(F::kMomentumRate, 6, scale.mass_kg);
  fill(F::kRateRate, 3, scale.mass_kg);
  fill(F::kPotential, 1, scale.force_n() * scale.length_m);
  fill(F::kFoot, 3, scale.length_m);
  fill(F::kTravel, 2, scale.length_m);
  fill(F::kDamping, 3, scale.damping_n_s_per_m());
  return units;
}

}  // namespace gaitshelf::solver
