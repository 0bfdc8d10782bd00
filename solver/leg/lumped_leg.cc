#include "solver/leg/lumped_leg.h"

#include <Eigen/Geometry>

namespace gaitshelf::solver {
namespace {

using F = LegFunction;

// Writes the bilinear inertia form (a . b) E - (a b' + b a') / 2, six entries, of two vectors.
void PutInertia(const Eigen::Vector3d& a, const Eigen::Vector3d& b, double mass, double* out) {
  const double dot = a.dot(b);
  out[0] = mass * (dot - a[0] * b[0]);
  out[1] = mass * (dot - a[1] * b[1]);
  out[2] = mass * (dot - a[2] * b[2]);
  out[3] = -0.5 * mass * (a[0] * b[1] + a[1] * b[0]);
  out[4] = -0.5 * mass * (a[0] * b[2] + a[2] * b[0]);
  out[5] = -0.5 * mass * (a[1] * b[2] + a[2] * b[1]);
}

}  // namespace

LumpedLeg::Coordinate LumpedLeg::Read(const v1::LegCoordinate& coordinate, const Scale& scale) {
  Coordinate result;
  result.direction = Eigen::Map<const Eigen::Vector3d>(coordinate.direction_ratio().data());
  const double rate = coordinate.has_bimorph() ? 1.0 / coordinate.transmission_ratio() : 1.0;
  const double bimorph_mass =
      coordinate.has_bimorph() ? coordinate.bimorph().moving_mass_kg() * rate * rate : 0.0;
  const double bimorph_stiffness =
      coordinate.has_bimorph() ? coordinate.bimorph().stiffness_n_per_m() * rate * rate : 0.0;
  result.moving_mass = (coordinate.moving_mass_kg() + bimorph_mass) / scale.mass_kg;
  result.stiffness =
      (coordinate.stiffness_n_per_m() + bimorph_stiffness) / scale.stiffness_n_per_m();
  result.damping = coordinate.damping_n_s_per_m() / scale.damping_n_s_per_m();
  result.travel = {coordinate.min_m() / scale.length_m,
                   coordinate.max_m() / scale.length_m,
                   coordinate.stop_stiffness_n_per_m() / scale.stiffness_n_per_m()};
  result.travel_rate = rate;
  return result;
}

LumpedLeg::LumpedLeg(const v1::LumpedLeg& leg, const Scale& scale)
    : foot_mass_(leg.foot_mass_kg() / scale.mass_kg),
      foot_(Eigen::Map<const Eigen::Vector3d>(leg.foot_m().data()) / scale.length_m),
      coordinates_{Read(leg.lift(), scale), Read(leg.swing(), scale)} {}

// All orders: they cost little here.
void LumpedLeg::Evaluate(const Eigen::Vector2d& y,
                         DerivativeOrder /*order*/,
                         LegEvaluation* evaluation) const {
  LegValues& value = evaluation->value;
  value.fill(0.0);
  for (LegValues& entry : evaluation->first) {
    entry.fill(0.0);
  }
  for (LegValues& entry : evaluation->second) {
    entry.fill(0.0);
  }
  const std::array<const Eigen::Vector3d*, 2> d = {&coordinates_[0].direction,
                                                   &coordinates_[1].direction};
  const double m = foot_mass_;
  const Eigen::Vector3d p = foot_ + y[0] * *d[0] + y[1] * *d[1];

  LegVector(value, F::kFirstMoment) = m * p;
  LegVector(value, F::kFoot) = p;
  PutInertia(p, p, m, &value[F::kInertia]);
  value[F::kRateRate + 2] = m * d[0]->dot(*d[1]);
  // The second derivative of a quadratic form is twice the bilinear form of its directions.
  PutInertia(*d[0], *d[0], 2.0 * m, &evaluation->second[0][F::kInertia]);
  PutInertia(*d[1], *d[1], 2.0 * m, &evaluation->second[1][F::kInertia]);
  PutInertia(*d[0], *d[1], 2.0 * m, &evaluation->second[2][F::kInertia]);

  for (int j = 0; j < 2; ++j) {
    const Coordinate& c = coordinates_[static_cast<size_t>(j)];
    LegValues& first = evaluation->first[static_cast<size_t>(j)];
    LegValues& second = evaluation->second[static_cast<size_t>(j)];
    LegVector(first, F::kFirstMoment) = m * c.direction;
    LegVector(first, F::kFoot) = c.direction;
    PutInertia(p, c.direction, 2.0 * m, &first[F::kInertia]);
    LegVector(value, F::kAngularRate + 3 * j) = m * p.cross(c.direction);
    LegVector(value, F::kMomentumRate + 3 * j) = m * c.direction;
    // d(p x d_i)/dy_j = d_j x d_i, 0 for i = j.
    const int i = 1 - j;
    LegVector(first, F::kAngularRate + 3 * i) = m * c.direction.cross(*d[static_cast<size_t>(i)]);

    value[static_cast<size_t>(F::kRateRate + j)] = m * c.direction.squaredNorm() + c.moving_mass;
    value[static_cast<size_t>(F::kDamping + j)] = c.damping;
    value[static_cast<size_t>(F::kTravel + j)] = c.travel_rate * y[j];
    first[static_cast<size_t>(F::kTravel + j)] = c.travel_rate;

    value[F::kPotential] += 0.5 * c.stiffness * y[j] * y[j];
    first[F::kPotential] = c.stiffness * y[j];
    second[F::kPotential] = c.stiffness;
    AddStops(c.travel, y[j], static_cast<size_t>(j), evaluation);
  }
}

}  // namespace gaitshelf::solver
