#include "solver/replay/foot_forces.h"

#include <algorithm>

#include <Eigen/QR>

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::Matrix2d;
using Eigen::Vector2d;
using Eigen::Vector3d;

// Sweeps between two corrections, and how often the pair is repeated.
constexpr int kSweepsPerRound = 20;
constexpr int kMaxRounds = 100;
constexpr int kNewtonSteps = 8;
// Pivots below this share of the largest count as 0: far more than rounding, far less than any
// mobility that moves a foot.
constexpr double kRankRatio = 1e-11;
// A residual this many times the tolerance will do once a round has gone by without reaching it:
// where feet share a load through almost no mobility, forces settle long after the motion has.
constexpr double kSettleRatio = 100.0;
// Keeps a foot's own 3 x 3 mobility invertible; far below the tolerance of the motion.
constexpr double kRegularisationRatio = 1e-12;

// The problem of one foot with the forces of all others held.
FootProblem Single(const FeetProblem& problem, const Eigen::VectorXd& forces, Index foot) {
  FootProblem single;
  const Index at = 3 * foot;
  single.mobility = problem.mobility.block<3, 3>(at, at);
  single.free = problem.free.segment<3>(at);
  single.free.noalias() += problem.mobility.middleRows<3>(at) * forces;
  single.free.noalias() -= single.mobility * forces.segment<3>(at);
  single.mobility.diagonal().array() *= 1.0 + kRegularisationRatio;
  single.friction = problem.friction;
  return single;
}

double TangentialMobility(const FeetProblem& problem, Index foot) {
  return 0.5 *
         (problem.mobility(3 * foot, 3 * foot) + problem.mobility(3 * foot + 1, 3 * foot + 1));
}

double WorstResidual(const FeetProblem& problem, const Eigen::VectorXd& forces) {
  return WorstFootResidual(problem, forces, problem.free + problem.mobility * forces);
}

// One sweep over all feet; returns the largest motion that it has made.
double Sweep(const FeetProblem& problem, Eigen::VectorXd* forces, FeetReport* report) {
  double change = 0.0;
  for (Index foot = 0; foot < forces->size() / 3; ++foot) {
    const FootProblem single = Single(problem, *forces, foot);
    const Vector3d force = SolveFoot(single, &report->states[static_cast<size_t>(foot)]);
    const Vector3d moved = single.mobility * (force - forces->segment<3>(3 * foot));
    change = std::max(change, moved.lpNorm<Eigen::Infinity>());
    forces->segment<3>(3 * foot) = force;
  }
  ++report->sweep_count;
  return change;
}

// The state that a force and a motion of a foot lean to: the gap is open where the normal force
// less gap / mobility is not positive, the foot slides where the tangential force less slip /
// mobility leaves the disc.
FootState LeaningState(const FeetProblem& problem,
                       const Eigen::VectorXd& forces,
                       const Eigen::VectorXd& motion,
                       Index foot) {
  const Index at = 3 * foot;
  if (forces[at + 2] - motion[at + 2] / problem.mobility(at + 2, at + 2) <= 0.0) {
    return FootState::kOpen;
  }
  const double mobility = TangentialMobility(problem, foot);
  const Vector2d tried = forces.segment<2>(at) - motion.segment<2>(at) / mobility;
  return tried.norm() > problem.friction * forces[at + 2] ? FootState::kSlide : FootState::kStick;
}

// One Newton step of all feet together, each by the law of the state that it leans to:
//   open: f = 0    stick: motion = 0    slide: gap = 0, ft = mu fn n(ft - slip / m)
// where n turns a vector into its direction and m is the foot's own tangential mobility. Where the
// split of a load is open the step takes the smallest change of forces.
Eigen::VectorXd NewtonStep(const FeetProblem& problem, const Eigen::VectorXd& forces) {
  const Eigen::VectorXd motion = problem.free + problem.mobility * forces;
  Eigen::MatrixXd slope = problem.mobility;
  Eigen::VectorXd residual = motion;
  for (Index foot = 0; foot < forces.size() / 3; ++foot) {
    const Index at = 3 * foot;
    const FootState state = LeaningState(problem, forces, motion, foot);
    const double mobility = TangentialMobility(problem, foot);
    if (state == FootState::kOpen) {
      slope.middleRows<3>(at).setZero();
      slope.block<3, 3>(at, at).diagonal().setConstant(mobility);
      residual.segment<3>(at) = mobility * forces.segment<3>(at);
    } else if (state == FootState::kSlide) {
      const Vector2d tried = forces.segment<2>(at) - motion.segment<2>(at) / mobility;
      const double size = tried.norm();
      const Vector2d direction = tried / size;
      const double limit = problem.friction * forces[at + 2];
      const Matrix2d turn =
          limit / size * (Matrix2d::Identity() - direction * direction.transpose());
      // Rows times the mobility, so that all rows are lengths.
      residual.segment<2>(at) = mobility * (forces.segment<2>(at) - limit * direction);
      slope.middleRows<2>(at) = turn * problem.mobility.middleRows<2>(at);
      slope.block<2, 2>(at, at) += mobility * (Matrix2d::Identity() - turn);
      slope.block<2, 1>(at, at + 2) -= mobility * problem.friction * direction;
    }
  }
  Eigen::CompleteOrthogonalDecomposition<Eigen::MatrixXd> solver;
  solver.setThreshold(kRankRatio);
  solver.compute(slope);
  return forces - solver.solve(residual);
}

// Takes Newton steps as long as they lead on and keeps the best of them. Sweeps alone are slow
// where feet that stick share a load.
void Correct(const FeetProblem& problem, double tolerance, Eigen::VectorXd* forces, double* worst) {
  Eigen::VectorXd tried = *forces;
  for (int i = 0; i<kNewtonSteps&& * worst> tolerance; ++i) {
    tried = NewtonStep(problem, tried);
    const double residual = WorstResidual(problem, tried);
    if (residual < *worst) {
      *worst = residual;
      *forces = tried;
    }
  }
}

}  // namespace

double WorstFootResidual(const FeetProblem& problem,
                         const Eigen::VectorXd& forces,
                         const Eigen::VectorXd& motion) {
  double worst = 0.0;
  FootProblem single;
  single.friction = problem.friction;
  for (Index foot = 0; foot < forces.size() / 3; ++foot) {
    single.mobility = problem.mobility.block<3, 3>(3 * foot, 3 * foot);
    worst = std::max(
        worst, FootResidual(single, forces.segment<3>(3 * foot), motion.segment<3>(3 * foot)));
  }
  return worst;
}

FeetReport SolveFeet(const FeetProblem& problem, double tolerance, Eigen::VectorXd* forces) {
  FeetReport report;
  report.states.assign(static_cast<size_t>(forces->size() / 3), FootState::kOpen);
  for (int round = 0; round < kMaxRounds; ++round) {
    for (int i = 0; i < kSweepsPerRound; ++i) {
      // The residual costs as much as a sweep; ask for it only once the sweeps have come to rest.
      if (Sweep(problem, forces, &report) <= tolerance) {
        report.residual = WorstResidual(problem, *forces);
        if (report.residual <= tolerance) {
          return report;
        }
      }
    }
    report.residual = WorstResidual(problem, *forces);
    Correct(problem, tolerance, forces, &report.residual);
    if (report.residual <= kSettleRatio * tolerance) {
      return report;
    }
  }
  return report;
}

}  // namespace gaitshelf::solver
