// The dynamics of RobotModel: derivatives of its Lagrangian by the chain rule over the body twist.
//
//   T = 1/2 w' M(y) w,  w = (omega, v, ydot),  omega = W(angles) angles',  v = R' x'
//   L = T - V(y) + g . (m x + R mc(y))
//   mu = M w = (angular, linear, rate momentum)
#include <array>

#include <Eigen/Geometry>

#include "solver/leg/attitude.h"
#include "solver/leg/robot_model.h"

namespace gaitshelf::solver {
namespace {

using F = LegFunction;
using Eigen::Index;
using Eigen::Matrix3d;
using Eigen::Vector2d;
using Eigen::Vector3d;
using Matrix32 = Eigen::Matrix<double, 3, 2>;

Eigen::Map<const Matrix32> ToRates(const LegValues& values, int first) {
  return Eigen::Map<const Matrix32>(values.data() + first);
}

Matrix3d ToInertia(const LegValues& values) {
  const double* i = values.data() + F::kInertia;
  Matrix3d result;
  result << i[0], i[3], i[4], i[3], i[1], i[5], i[4], i[5], i[2];
  return result;
}

// Product of the symmetric 2 x 2 matrix stored as 00 11 01.
Vector2d TimesRates(const LegValues& values, size_t first, const Vector2d& rates) {
  const double cross = values[first + 2];
  return Vector2d(values[first] * rates[0] + cross * rates[1],
                  cross * rates[0] + values[first + 1] * rates[1]);
}

Matrix3d Skew(const Vector3d& a) {
  Matrix3d result;
  result << 0.0, -a[2], a[1], a[2], 0.0, -a[0], -a[1], a[0], 0.0;
  return result;
}

// Body twist and one leg's rates; also a leg's momentum.
struct LegTwist {
  Vector3d angular;
  Vector3d linear;
  Vector2d rates;

  double Dot(const LegTwist& other) const {
    return angular.dot(other.angular) + linear.dot(other.linear) + rates.dot(other.rates);
  }
};

// Product of one leg's matrix (or of a derivative of it, then with mass 0) with a twist.
LegTwist Times(const LegValues& f, double mass, const LegTwist& w) {
  const auto mc = LegVector(f, F::kFirstMoment);
  const auto angular_rate = ToRates(f, F::kAngularRate);
  const auto momentum_rate = ToRates(f, F::kMomentumRate);
  const double* i = f.data() + F::kInertia;
  LegTwist mu;
  mu.angular = mc.cross(w.linear) + angular_rate * w.rates;
  mu.angular[0] += i[0] * w.angular[0] + i[3] * w.angular[1] + i[4] * w.angular[2];
  mu.angular[1] += i[3] * w.angular[0] + i[1] * w.angular[1] + i[5] * w.angular[2];
  mu.angular[2] += i[4] * w.angular[0] + i[5] * w.angular[1] + i[2] * w.angular[2];
  mu.linear = mass * w.linear - mc.cross(w.angular) + momentum_rate * w.rates;
  mu.rates = angular_rate.transpose() * w.angular + momentum_rate.transpose() * w.linear +
             TimesRates(f, F::kRateRate, w.rates);
  return mu;
}

// What the loops over the legs share.
struct State {
  bool is_clamped = false;  // then it has no attitude and no derivatives
  Attitude attitude;
  Vector3d angular;                   // omega
  Vector3d linear;                    // v
  Vector3d gravity;                   // in the body frame
  std::array<Vector3d, 3> angular_d;  // derivatives by the angles
  std::array<Vector3d, 3> linear_d;
  std::array<Vector3d, 3> gravity_d;
  // Sums over body and legs.
  double mass = 0.0;
  Vector3d first_moment;
  Matrix3d inertia;
  Vector3d angular_momentum;
  Vector3d linear_momentum;
};

void StartState(const Eigen::Ref<const Eigen::VectorXd>& q,
                const Eigen::Ref<const Eigen::VectorXd>& v,
                bool is_clamped,
                DerivativeOrder order,
                const Vector3d& gravity,
                State* state) {
  State& s = *state;
  s.is_clamped = is_clamped;
  if (is_clamped) {
    s.angular.setZero();
    s.linear.setZero();
    s.gravity = gravity;
    return;
  }
  EvaluateAttitude(
      q.segment<3>(3),
      order == DerivativeOrder::kSecond ? AttitudeOrder::kSecond : AttitudeOrder::kFirst,
      &s.attitude);
  const Vector3d velocity = v.head<3>();
  const Vector3d rates = v.segment<3>(3);
  s.angular = s.attitude.rates * rates;
  s.linear = s.attitude.rotation.transpose() * velocity;
  s.gravity = s.attitude.rotation.transpose() * gravity;
  for (size_t i = 0; i < 3; ++i) {
    s.angular_d[i] = s.attitude.rates_d[i] * rates;
    s.linear_d[i] = s.attitude.rotation_d[i].transpose() * velocity;
    s.gravity_d[i] = s.attitude.rotation_d[i].transpose() * gravity;
  }
}

// Adds one leg to the sums and fills its own vector entries. Returns the derivatives of its
// momentum by its coordinates.
std::array<LegTwist, 2> AddLegVectors(const LegEvaluation& leg,
                                      double mass,
                                      Index at,
                                      const LegTwist& w,
                                      State* state,
                                      LagrangianTerms* terms) {
  State& s = *state;
  const LegTwist mu = Times(leg.value, mass, w);
  s.mass += mass;
  s.first_moment += LegVector(leg.value, F::kFirstMoment);
  s.inertia += ToInertia(leg.value);
  s.angular_momentum += mu.angular;
  s.linear_momentum += mu.linear;
  terms->momentum.segment<2>(at) = mu.rates;

  std::array<LegTwist, 2> mu_y;
  const Vector2d damping = TimesRates(leg.value, F::kDamping, w.rates);
  for (size_t j = 0; j < 2; ++j) {
    const LegValues& first = leg.first[j];
    mu_y[j] = Times(first, 0.0, w);
    const Index i = static_cast<Index>(j);
    terms->force[at + i] = 0.5 * w.Dot(mu_y[j]) - first[F::kPotential] +
                           s.gravity.dot(LegVector(first, F::kFirstMoment)) - damping[i];
  }
  return mu_y;
}

// Fills a leg's diagonal entries and its columns. `mu_y` is what AddLegVectors returned.
void FillLegMatrices(const LegEvaluation& leg,
                     Index at,
                     const LegTwist& w,
                     const std::array<LegTwist, 2>& mu_y,
                     const State& s,
                     LagrangianTerms* terms) {
  LagrangianTerms& t = *terms;
  static constexpr std::array<std::array<int, 2>, 2> kSecond = {{{0, 2}, {2, 1}}};
  std::array<double, 3> second_force = {};
  for (size_t k = 0; k < 3; ++k) {
    const LegValues& second = leg.second[k];
    second_force[k] = 0.5 * w.Dot(Times(second, 0.0, w)) - second[F::kPotential] +
                      s.gravity.dot(LegVector(second, F::kFirstMoment));
  }
  const auto angular_rate = ToRates(leg.value, F::kAngularRate);
  const auto momentum_rate = ToRates(leg.value, F::kMomentumRate);
  const double* y = leg.value.data() + F::kRateRate;
  t.momentum_v.block<2, 2>(at, at) << y[0], y[2], y[2], y[1];
  const double* d = leg.value.data() + F::kDamping;
  t.force_v.block<2, 2>(at, at) << -d[0], -d[2], -d[2], -d[1];
  for (size_t j = 0; j < 2; ++j) {
    const Index column = at + static_cast<Index>(j);
    t.momentum_q.col(column).segment<2>(at) = mu_y[j].rates;
    for (size_t i = 0; i < 2; ++i) {
      t.force_q(at + static_cast<Index>(i), column) =
          second_force[static_cast<size_t>(kSecond[i][j])];
    }
    t.force_q.col(column).segment<2>(at) -= TimesRates(leg.first[j], F::kDamping, w.rates);
    if (s.is_clamped) {
      continue;
    }
    const Vector3d moment = LegVector(leg.first[j], F::kFirstMoment);
    t.momentum_q.col(column).head<3>() = s.attitude.rotation * mu_y[j].linear;
    t.momentum_q.col(column).segment<3>(3) = s.attitude.rates.transpose() * mu_y[j].angular;
    for (size_t i = 0; i < 3; ++i) {
      const double value = s.angular_d[i].dot(mu_y[j].angular) + s.linear_d[i].dot(mu_y[j].linear) +
                           s.gravity_d[i].dot(moment);
      t.force_q(3 + static_cast<Index>(i), column) = value;
      t.force_q(column, 3 + static_cast<Index>(i)) = value;
    }
  }
  if (s.is_clamped) {
    return;
  }
  for (size_t i = 0; i < 3; ++i) {
    t.momentum_q.col(3 + static_cast<Index>(i)).segment<2>(at) =
        angular_rate.transpose() * s.angular_d[i] + momentum_rate.transpose() * s.linear_d[i];
  }
  const Matrix32 by_position = s.attitude.rotation * momentum_rate;
  const Matrix32 by_angles = s.attitude.rates.transpose() * angular_rate;
  t.momentum_v.block<3, 2>(0, at) = by_position;
  t.momentum_v.block<3, 2>(3, at) = by_angles;
  t.momentum_v.block<2, 3>(at, 0) = by_position.transpose();
  t.momentum_v.block<2, 3>(at, 3) = by_angles.transpose();
}

// Fills the base's entries once body and legs are summed.
void FinishBaseVectors(const State& s, const Vector3d& gravity, LagrangianTerms* terms) {
  terms->momentum.head<3>() = s.attitude.rotation * s.linear_momentum;
  terms->momentum.segment<3>(3) = s.attitude.rates.transpose() * s.angular_momentum;
  terms->force.head<3>() = s.mass * gravity;
  for (size_t i = 0; i < 3; ++i) {
    terms->force[3 + static_cast<Index>(i)] = s.angular_d[i].dot(s.angular_momentum) +
                                              s.linear_d[i].dot(s.linear_momentum) +
                                              s.gravity_d[i].dot(s.first_moment);
  }
}

void FinishBaseMatrices(const State& s,
                        const Vector3d& gravity,
                        const Eigen::Ref<const Eigen::VectorXd>& v,
                        LagrangianTerms* terms) {
  LagrangianTerms& t = *terms;
  const Matrix3d& rotation = s.attitude.rotation;
  const Matrix3d& rates = s.attitude.rates;
  t.momentum_v.topLeftCorner<3, 3>() = s.mass * Matrix3d::Identity();
  const Matrix3d mixed = rotation * Skew(-s.first_moment) * rates;
  t.momentum_v.block<3, 3>(0, 3) = mixed;
  t.momentum_v.block<3, 3>(3, 0) = mixed.transpose();
  t.momentum_v.block<3, 3>(3, 3) = rates.transpose() * s.inertia * rates;
  std::array<Vector3d, 3> angular;  // d(angular momentum)/d(angle)
  std::array<Vector3d, 3> linear;
  for (size_t i = 0; i < 3; ++i) {
    angular[i] = s.inertia * s.angular_d[i] + s.first_moment.cross(s.linear_d[i]);
    linear[i] = s.mass * s.linear_d[i] - s.first_moment.cross(s.angular_d[i]);
    const Index column = 3 + static_cast<Index>(i);
    t.momentum_q.col(column).head<3>() =
        s.attitude.rotation_d[i] * s.linear_momentum + rotation * linear[i];
    t.momentum_q.col(column).segment<3>(3) =
        s.attitude.rates_d[i].transpose() * s.angular_momentum + rates.transpose() * angular[i];
  }
  const Vector3d velocity = v.head<3>();
  const Vector3d angle_rates = v.segment<3>(3);
  for (size_t i = 0; i < 3; ++i) {
    for (size_t j = 0; j <= i; ++j) {
      const auto k =
          static_cast<size_t>(Attitude::SecondIndex(static_cast<int>(j), static_cast<int>(i)));
      const Matrix3d& turn = s.attitude.rotation_dd[k];
      const double value = (s.attitude.rates_dd[k] * angle_rates).dot(s.angular_momentum) +
                           velocity.dot(turn * s.linear_momentum) +
                           gravity.dot(turn * s.first_moment) + s.angular_d[i].dot(angular[j]) +
                           s.linear_d[i].dot(linear[j]);
      t.force_q(3 + static_cast<Index>(i), 3 + static_cast<Index>(j)) = value;
      t.force_q(3 + static_cast<Index>(j), 3 + static_cast<Index>(i)) = value;
    }
  }
}

}  // namespace

// An evaluation of a leg is filled before it is read. Clearing its 1.6 kB first would take some
// hundredths of the time.
// NOLINTBEGIN(cppcoreguidelines-pro-type-member-init)
void RobotModel::Evaluate(const Eigen::Ref<const Eigen::VectorXd>& q,
                          const Eigen::Ref<const Eigen::VectorXd>& v,
                          DerivativeOrder order,
                          LagrangianTerms* terms) const {
  const Index n = coordinate_count();
  const bool with_matrices = order == DerivativeOrder::kSecond;
  if (with_matrices) {
    terms->Resize(n);
  } else {
    terms->force.setZero(n);
    terms->momentum.setZero(n);
  }
  State state;
  StartState(q, v, is_clamped_, order, gravity_, &state);
  state.mass = body_mass_;
  state.first_moment = body_mass_ * body_center_;
  state.inertia = body_inertia_;
  state.angular_momentum = body_inertia_ * state.angular + state.first_moment.cross(state.linear);
  state.linear_momentum = body_mass_ * state.linear - state.first_moment.cross(state.angular);

  LegEvaluation leg;
  for (Index i = 0; i < leg_count(); ++i) {
    const Index at = base_count() + 2 * i;
    const LegModel& model = *legs_[static_cast<size_t>(i)];
    model.Evaluate(q.segment<2>(at), order, &leg);
    const LegTwist twist = {state.angular, state.linear, v.segment<2>(at)};
    const auto momentum_y = AddLegVectors(leg, model.mass(), at, twist, &state, terms);
    if (with_matrices) {
      FillLegMatrices(leg, at, twist, momentum_y, state, terms);
    }
  }
  if (!is_clamped_) {
    FinishBaseVectors(state, gravity_, terms);
    if (with_matrices) {
      FinishBaseMatrices(state, gravity_, v, terms);
    }
  }
  if (with_matrices) {
    // FillLegMatrices has left the damping in force_v.
    terms->force_v += terms->momentum_q.transpose();
  }
}

double RobotModel::Energy(const Eigen::Ref<const Eigen::VectorXd>& q,
                          const Eigen::Ref<const Eigen::VectorXd>& v) const {
  LagrangianTerms terms;
  Evaluate(q, v, DerivativeOrder::kFirst, &terms);
  // The kinetic energy is quadratic in v: 1/2 v . dT/dv.
  double energy = 0.5 * terms.momentum.dot(v);
  Vector3d origin(0.0, 0.0, clamp_height_);
  Matrix3d rotation = Matrix3d::Identity();
  if (!is_clamped_) {
    Attitude attitude;
    EvaluateAttitude(q.segment<3>(3), AttitudeOrder::kValue, &attitude);
    origin = q.head<3>();
    rotation = attitude.rotation;
  }
  Vector3d moment = body_mass_ * body_center_;
  LegEvaluation leg;
  for (Index i = 0; i < leg_count(); ++i) {
    legs_[static_cast<size_t>(i)]->Evaluate(
        q.segment<2>(base_count() + 2 * i), DerivativeOrder::kFirst, &leg);
    moment += LegVector(leg.value, F::kFirstMoment);
    energy += leg.value[F::kPotential];
  }
  return energy - gravity_.dot(total_mass_ * origin + rotation * moment);
}

double RobotModel::DampingPower(const Eigen::Ref<const Eigen::VectorXd>& q,
                                const Eigen::Ref<const Eigen::VectorXd>& v) const {
  double power = 0.0;
  LegEvaluation leg;
  for (Index i = 0; i < leg_count(); ++i) {
    const Index at = base_count() + 2 * i;
    legs_[static_cast<size_t>(i)]->Evaluate(q.segment<2>(at), DerivativeOrder::kFirst, &leg);
    const Vector2d rates = v.segment<2>(at);
    power += rates.dot(TimesRates(leg.value, F::kDamping, rates));
  }
  return power;
}
// NOLINTEND(cppcoreguidelines-pro-type-member-init)

}  // namespace gaitshelf::solver
