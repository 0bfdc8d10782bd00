#include "solver/replay/foot_forces.h"

#include <algorithm>

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::Vector3d;

constexpr int kMaxSweeps = 2000;
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

double WorstResidual(const FeetProblem& problem, const Eigen::VectorXd& forces) {
  const Eigen::VectorXd motion = problem.free + problem.mobility * forces;
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

}  // namespace

FeetReport SolveFeet(const FeetProblem& problem, double tolerance, Eigen::VectorXd* forces) {
  const Index foot_count = problem.free.size() / 3;
  FeetReport report;
  report.states.assign(static_cast<size_t>(foot_count), FootState::kOpen);
  for (report.sweep_count = 1; report.sweep_count <= kMaxSweeps; ++report.sweep_count) {
    double change = 0.0;
    for (Index foot = 0; foot < foot_count; ++foot) {
      const FootProblem single = Single(problem, *forces, foot);
      const Vector3d force = SolveFoot(single, &report.states[static_cast<size_t>(foot)]);
      const Vector3d moved = single.mobility * (force - forces->segment<3>(3 * foot));
      change = std::max(change, moved.lpNorm<Eigen::Infinity>());
      forces->segment<3>(3 * foot) = force;
    }
    // The residual costs as much as a sweep; ask for it only once the sweep has come to rest.
    if (change <= tolerance) {
      report.residual = WorstResidual(problem, *forces);
      if (report.residual <= tolerance) {
        return report;
      }
    }
  }
  report.residual = WorstResidual(problem, *forces);
  return report;
}

}  // namespace gaitshelf::solver
