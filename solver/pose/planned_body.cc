#include "solver/pose/planned_body.h"

#include <algorithm>
#include <cmath>

namespace gaitshelf::solver {
namespace {

using Eigen::Index;

// More phases than a plan has knots, between which it is linear.
constexpr Index kTableCount = 1000;

}  // namespace

PlannedBody::PlannedBody(const PlannedCycle& plan)
    : table_(6, kTableCount + 1), advance_m_(plan.advance_m()) {
  for (Index i = 0; i <= kTableCount; ++i) {
    const double phase = static_cast<double>(i) / static_cast<double>(kTableCount);
    table_.col(i) = plan.Position(phase).head<6>();
  }
}

Pose PlannedBody::At(double phase_ratio) const {
  const double whole = std::floor(phase_ratio);
  const double place = (phase_ratio - whole) * static_cast<double>(kTableCount);
  const Index left = std::min(static_cast<Index>(place), kTableCount - 1);
  const double part = place - static_cast<double>(left);
  Pose pose = (1.0 - part) * table_.col(left) + part * table_.col(left + 1);
  pose[0] += whole * advance_m_;
  return pose;
}

}  // namespace gaitshelf::solver
