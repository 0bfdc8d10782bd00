#include "solver/mechanism/closure.h"

#include <algorithm>
#include <utility>

#include <Eigen/LU>
#include <Eigen/SVD>

#include "solver/base/status_macros.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// Residual over the size of the linkage at which loops count as closed: some roundings.
constexpr double kClosed = 1e-13;
// Below this the loop equations count as dependent.
constexpr double kLeastRegularity = 1e-6;

MatrixXd ColumnsOf(const MatrixXd& matrix, const std::vector<int>& columns) {
  MatrixXd result(matrix.rows(), static_cast<Index>(columns.size()));
  for (size_t i = 0; i < columns.size(); ++i) {
    result.col(static_cast<Index>(i)) = matrix.col(columns[i]);
  }
  return result;
}

}  // namespace

LoopClosure::LoopClosure(const Linkage* linkage) : linkage_(*linkage) {
  for (int i = 0; i < static_cast<int>(linkage_.links.size()); ++i) {
    const std::vector<int>& free = linkage_.independent;
    if (std::find(free.begin(), free.end(), i) == free.end()) {
      dependent_.push_back(i);
    }
  }
  double length = 0.0;
  for (const LoopHinge& loop : linkage_.loops) {
    for (const LinkageLink& link : linkage_.links) {
      length = std::max(length, (link.point - loop.point).norm());
    }
  }
  length_ = length > 0.0 ? length : 1.0;
}

VectorXd LoopClosure::CoordinatesOf(const Eigen::Ref<const VectorXd>& angles) const {
  VectorXd coordinates(static_cast<Index>(linkage_.independent.size()));
  for (Index i = 0; i < coordinates.size(); ++i) {
    coordinates[i] = angles[linkage_.independent[static_cast<size_t>(i)]];
  }
  return coordinates;
}

// Newton's method on the dependent angles.
absl::Status LoopClosure::Close(ClosedPosture* posture) const {
  constexpr int kMostIterations = 12;
  // An angle that moves more at once has left the assembly.
  constexpr double kLongestMove = 0.5;
  VectorXd residual;
  MatrixXd jacobian;
  for (int i = 0; i < kMostIterations; ++i) {
    EvaluatePose(linkage_, posture->angles, &posture->pose);
    EvaluateLoops(linkage_, posture->pose, &residual, &jacobian);
    if (residual.size() == 0 || residual.cwiseAbs().maxCoeff() <= kClosed * length_) {
      return absl::OkStatus();
    }
    const VectorXd move = ColumnsOf(jacobian, dependent_).partialPivLu().solve(residual);
    if (!move.allFinite() || move.cwiseAbs().maxCoeff() > kLongestMove) {
      break;
    }
    for (size_t k = 0; k < dependent_.size(); ++k) {
      posture->angles[dependent_[k]] -= move[static_cast<Index>(k)];
    }
  }
  return absl::OutOfRangeError("the loops do not close");
}

void LoopClosure::Linearise(ClosedPosture* posture) const {
  const auto count = static_cast<Index>(linkage_.independent.size());
  posture->rates.setZero(linkage_.angle_count(), count);
  for (Index i = 0; i < count; ++i) {
    posture->rates(linkage_.independent[static_cast<size_t>(i)], i) = 1.0;
  }
  if (dependent_.empty()) {
    return;
  }
  VectorXd residual;
  MatrixXd jacobian;
  EvaluateLoops(linkage_, posture->pose, &residual, &jacobian);
  const MatrixXd by_dependent = ColumnsOf(jacobian, dependent_);
  const Eigen::PartialPivLU<MatrixXd> solver(by_dependent);
  const MatrixXd slopes = solver.solve(ColumnsOf(jacobian, linkage_.independent));
  for (size_t i = 0; i < dependent_.size(); ++i) {
    posture->rates.row(dependent_[i]) = -slopes.row(static_cast<Index>(i));
  }
  // The estimate means nothing when elimination broke down.
  const double determinant = solver.determinant();
  posture->regularity = determinant != 0.0 && slopes.allFinite() ? solver.rcond() : 0.0;
  posture->branch = determinant < 0.0 ? -1.0 : 1.0;
}

absl::Status LoopClosure::Start(ClosedPosture* posture) const {
  posture->angles.setZero(linkage_.angle_count());
  EvaluatePose(linkage_, posture->angles, &posture->pose);
  Linearise(posture);
  if (!(posture->regularity > kLeastRegularity)) {
    return absl::FailedPreconditionError("the loop equations are dependent at rest");
  }
  return absl::OkStatus();
}

absl::Status LoopClosure::Step(const Eigen::Ref<const VectorXd>& coordinates,
                               ClosedPosture* posture) const {
  ClosedPosture next;
  next.angles = posture->angles + posture->rates * (coordinates - CoordinatesOf(posture->angles));
  GAITSHELF_RETURN_IF_ERROR(Close(&next));
  Linearise(&next);
  if (next.branch != posture->branch || !(next.regularity > kLeastRegularity)) {
    return absl::OutOfRangeError("the loops close on another assembly");
  }
  *posture = std::move(next);
  return absl::OkStatus();
}

absl::Status LoopClosure::Walk(const Eigen::Ref<const VectorXd>& coordinates,
                               int count,
                               ClosedPosture* posture) const {
  ClosedPosture at = *posture;
  const VectorXd start = CoordinatesOf(at.angles);
  for (int i = 1; i <= count; ++i) {
    const double share = static_cast<double>(i) / count;
    GAITSHELF_RETURN_IF_ERROR(Step(start + share * (coordinates - start), &at));
  }
  *posture = std::move(at);
  return absl::OkStatus();
}

int LoopClosure::WeakestLoop(const ClosedPosture& posture) const {
  VectorXd residual;
  MatrixXd jacobian;
  EvaluateLoops(linkage_, posture.pose, &residual, &jacobian);
  const Eigen::JacobiSVD<MatrixXd> decomposition(ColumnsOf(jacobian, dependent_),
                                                 Eigen::ComputeThinU);
  const VectorXd weakest = decomposition.matrixU().rightCols<1>();
  Index equation = 0;
  weakest.cwiseAbs().maxCoeff(&equation);
  return static_cast<int>(equation / 2);
}

RangeReach FindReach(const LoopClosure& closure,
                     const ClosedPosture& rest,
                     const Eigen::Vector2d& lower,
                     const Eigen::Vector2d& upper,
                     double most_ratio) {
  constexpr double kStepRatio = 0.05;
  RangeReach reach;
  reach.ratio = most_ratio;
  reach.stiffest = rest;
  for (int i = 0; i < 9; ++i) {
    const auto end = [&](int side, Index c) {
      return side == 0 ? 0.0 : side == 1 ? lower[c] : upper[c];
    };
    const Eigen::Vector2d corner(end(i % 3, 0), end(i / 3, 1));
    if (corner.isZero(0.0)) {
      continue;
    }
    ClosedPosture at = rest;
    for (int step = 1; step * kStepRatio <= reach.ratio; ++step) {
      if (!closure.Step(step * kStepRatio * corner, &at).ok()) {
        reach.ratio = (step - 1) * kStepRatio;
        reach.last = at;
        break;
      }
      // Half a step more than the range, since its end may not lie on a step.
      if ((step - 0.5) * kStepRatio < 1.0 && at.regularity < reach.stiffest.regularity) {
        reach.stiffest = at;
      }
    }
  }
  return reach;
}

}  // namespace gaitshelf::solver
