#include "solver/calibrate/leg_response.h"

#include <algorithm>
#include <cmath>

#include <Eigen/LU>

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::Matrix2d;
using Eigen::Matrix4d;
using Matrix8d = Eigen::Matrix<double, 8, 8>;

// exp(A) by its series after halving to a norm below 1/8, squared back; 14 terms then reach
// rounding.
Matrix8d Exponential(const Matrix8d& a) {
  const double norm = a.cwiseAbs().rowwise().sum().maxCoeff();
  const int halvings = norm > 0.125 ? static_cast<int>(std::ceil(std::log2(norm / 0.125))) : 0;
  const Matrix8d small = a / std::ldexp(1.0, halvings);
  Matrix8d term = Matrix8d::Identity();
  Matrix8d sum = term;
  for (int k = 1; k <= 14; ++k) {
    term = term * small / k;
    sum += term;
  }
  for (int k = 0; k < halvings; ++k) {
    sum = (sum * sum).eval();
  }
  return sum;
}

// State over one interval: x+ = state x + input u, x = (y, y'), u = forces of the two drives per
// volt and applied forces.
struct Interval {
  double length_s = -1.0;
  Matrix4d state;
  Matrix4d input;
};

class Stepper {
 public:
  Stepper(const LinearLeg& leg, const LegFactors& factors, double added_mass_kg) {
    const Matrix2d mass =
        factors.mass * leg.mass + added_mass_kg * leg.foot_rate.transpose() * leg.foot_rate;
    const Matrix2d stiffness = factors.mass * leg.weight_stiffness +
                               factors.stiffness[0] * leg.stiffness[0] +
                               factors.stiffness[1] * leg.stiffness[1];
    const Matrix2d damping =
        factors.damping[0] * leg.damping[0] + factors.damping[1] * leg.damping[1];
    const Matrix2d inverse = mass.inverse();
    rates_.setZero();
    rates_.block<2, 2>(0, 2).setIdentity();
    rates_.block<2, 2>(2, 0) = -inverse * stiffness;
    rates_.block<2, 2>(2, 2) = -inverse * damping;
    rates_.block<2, 2>(2, 4) = inverse * leg.gain;
    rates_.block<2, 2>(2, 6) = inverse;
  }

  const Interval& Over(double length_s) {
    // Times that were written with a few digits wander; what they wander by is not real.
    if (std::abs(length_s - interval_.length_s) > 1e-6 * std::abs(length_s)) {
      const Matrix8d all = Exponential(rates_ * length_s);
      interval_ = {.length_s = length_s,
                   .state = all.topLeftCorner<4, 4>(),
                   .input = all.topRightCorner<4, 4>()};
    }
    return interval_;
  }

 private:
  Matrix8d rates_;
  Interval interval_;
};

}  // namespace

LegResponse Respond(const LinearLeg& leg, const LegFactors& factors, const BenchRecord& record) {
  const auto count = static_cast<Index>(record.row_count());
  LegResponse response;
  for (std::size_t axis = 0; axis < 2; ++axis) {
    if (record.position_m[axis] != nullptr) {
      response.motion[axis].resize(count, LegResponse::kCount);
    }
  }
  Stepper stepper(leg, factors, record.added_mass_kg);
  Eigen::Matrix<double, 4, LegResponse::kCount> state;
  state.setZero();
  state.leftCols<4>().setIdentity();
  for (Index row = 0; row < count; ++row) {
    for (std::size_t axis = 0; axis < 2; ++axis) {
      if (record.position_m[axis] != nullptr) {
        response.motion[axis].row(row) = state.row(static_cast<Index>(axis));
      }
    }
    if (row + 1 == count) {
      break;
    }
    const auto at = static_cast<std::size_t>(row);
    const Interval& interval = stepper.Over((*record.time_s)[at + 1] - (*record.time_s)[at]);
    state = (interval.state * state).eval();
    state.col(LegResponse::kDrive) += interval.input.col(0) * record.input(0, row);
    state.col(LegResponse::kDrive + 1) += interval.input.col(1) * record.input(1, row);
    state.col(LegResponse::kForce) +=
        interval.input.col(2) * record.input(2, row) + interval.input.col(3) * record.input(3, row);
  }
  return response;
}

}  // namespace gaitshelf::solver
