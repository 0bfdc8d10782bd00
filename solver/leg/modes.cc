#include "solver/leg/modes.h"

#include <algorithm>
#include <cmath>
#include <cstddef>

#include <Eigen/Eigenvalues>
#include <Eigen/SVD>

#include "absl/strings/str_cat.h"
#include "solver/base/constants.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// Singular values of the foot conditions below this share of the largest are rounding.
constexpr double kRankRatio = 1e-9;
// Squared frequencies below this share of the highest one are rounding: 0 Hz.
constexpr double kZeroRatio = 1e-10;
// Squared frequencies this near to each other, as a share of the highest, are one frequency.
constexpr double kEqualRatio = 1e-9;
// Share from which the second part of a motion is named (own choice).
constexpr double kNamedShare = 0.1;

// Columns span the motions that the foot condition allows.
MatrixXd FreeMotions(const RobotModel& model, const Standing& standing) {
  const Index n = model.coordinate_count();
  if (standing.condition == FootCondition::kClamped) {
    return MatrixXd::Identity(n, n).rightCols(2 * model.leg_count());
  }
  const auto feet = static_cast<Index>(standing.feet.size());
  if (feet == 0) {
    return MatrixXd::Identity(n, n);
  }
  const Index rows = standing.condition == FootCondition::kSticking ? 3 : 1;
  MatrixXd conditions(rows * feet, n);
  FootKinematics kinematics;
  for (Index i = 0; i < feet; ++i) {
    model.EvaluateFoot(
        standing.position, standing.feet[static_cast<std::size_t>(i)], true, &kinematics);
    conditions.middleRows(rows * i, rows) = kinematics.jacobian.bottomRows(rows);
  }
  Eigen::JacobiSVD<MatrixXd> svd(conditions, Eigen::ComputeFullV);
  svd.setThreshold(kRankRatio);
  return svd.matrixV().rightCols(n - svd.rank());
}

// -d(force)/dq with the forces of feet and drives held.
MatrixXd Stiffness(const RobotModel& model,
                   const Standing& standing,
                   const LagrangianTerms& terms) {
  MatrixXd slope = terms.force_q;
  for (std::size_t i = 0; i < standing.feet.size(); ++i) {
    model.AddFootHessian(standing.position,
                         standing.feet[i],
                         Eigen::Vector3d(0.0, 0.0, standing.normal_load[i]),
                         &slope);
  }
  model.AddDriveHessian(standing.position, standing.drive, &slope);
  return -0.5 * (slope + slope.transpose());
}

// Motions of one frequency may be mixed at will. Turns them so that each belongs to as few
// coordinates as can be, which makes names and answers the same from run to run.
void Separate(const MatrixXd& mass, const VectorXd& values, MatrixXd* shapes) {
  const Index n = mass.rows();
  const VectorXd rank = VectorXd::LinSpaced(n, 1.0, static_cast<double>(n));
  const MatrixXd ranked = rank.asDiagonal() * mass;
  const double equal = values.size() > 0 ? kEqualRatio * values.cwiseAbs().maxCoeff() : 0.0;
  for (Index first = 0; first < values.size();) {
    Index last = first + 1;
    while (last < values.size() && values[last] - values[first] <= equal) {
      ++last;
    }
    const MatrixXd group = shapes->middleCols(first, last - first);
    const MatrixXd share = group.transpose() * (ranked + ranked.transpose()) * group;
    const Eigen::SelfAdjointEigenSolver<MatrixXd> solver(share);
    shapes->middleCols(first, last - first) = group * solver.eigenvectors();
    first = last;
  }
}

std::array<double, 8> EnergyShare(const VectorXd& shape, const VectorXd& momentum, Index base) {
  std::array<double, 8> share{};
  for (Index i = 0; i < shape.size(); ++i) {
    const Index part = i < base ? i : 6 + (i - base) % 2;
    share[static_cast<std::size_t>(part)] += shape[i] * momentum[i];
  }
  return share;
}

std::string Name(const std::array<double, 8>& share) {
  std::array<std::size_t, 8> order = {0, 1, 2, 3, 4, 5, 6, 7};
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    return share[a] > share[b];
  });
  std::string name = kMotionNames[order[0]];
  if (share[order[1]] >= kNamedShare) {
    absl::StrAppend(&name, "-", kMotionNames[order[1]]);
  }
  return name;
}

}  // namespace

std::vector<Mode> FindModes(const RobotModel& model, const Standing& standing) {
  const Index n = model.coordinate_count();
  const MatrixXd free = FreeMotions(model, standing);
  std::vector<Mode> modes;
  if (free.cols() == 0) {
    return modes;
  }
  LagrangianTerms terms;
  model.Evaluate(standing.position, VectorXd::Zero(n), DerivativeOrder::kSecond, &terms);
  const MatrixXd& mass = terms.momentum_v;
  const MatrixXd stiffness = Stiffness(model, standing, terms);
  const MatrixXd damping = -terms.force_v;

  const Eigen::GeneralizedSelfAdjointEigenSolver<MatrixXd> solver(
      free.transpose() * stiffness * free, free.transpose() * mass * free);
  const VectorXd& values = solver.eigenvalues();
  MatrixXd shapes = free * solver.eigenvectors();
  Separate(mass, values, &shapes);
  const double zero = kZeroRatio * values.cwiseAbs().maxCoeff();
  for (Index i = 0; i < values.size(); ++i) {
    Mode mode;
    mode.shape = shapes.col(i);
    mode.energy_share = EnergyShare(mode.shape, mass * mode.shape, model.base_count());
    mode.name = Name(mode.energy_share);
    mode.is_unstable = values[i] < -zero;
    if (values[i] > zero) {
      const double omega = std::sqrt(values[i]);
      mode.frequency_hz = omega / (2.0 * kPi * model.scale().time_s);
      mode.damping_ratio = mode.shape.dot(damping * mode.shape) / (2.0 * omega);
    }
    modes.push_back(std::move(mode));
  }
  return modes;
}

double HighestFrequency(const std::vector<Mode>& modes) {
  double highest = 0.0;
  for (const Mode& mode : modes) {
    highest = std::max(highest, mode.frequency_hz);
  }
  return highest;
}

std::vector<Mode> ModesNear(const std::vector<Mode>& modes, double frequency_hz) {
  std::vector<Mode> near;
  for (const Mode& mode : modes) {
    if (mode.frequency_hz > 0.0 &&
        std::abs(frequency_hz - mode.frequency_hz) <= kOnModeRatio * mode.frequency_hz) {
      near.push_back(mode);
    }
  }
  return near;
}

}  // namespace gaitshelf::solver
