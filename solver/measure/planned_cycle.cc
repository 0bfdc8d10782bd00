#include "solver/measure/planned_cycle.h"

#include <cmath>
#include <utility>

#include "solver/base/constants.h"
#include "solver/base/status_macros.h"
#include "solver/measure/statistics.h"
#include "solver/replay/limits.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;

// Phases of the table of leg positions: linear between so many, a sine is off by 2e-6 of its
// amplitude.
constexpr Index kTableCount = 2000;

}  // namespace

PlannedCycle::PlannedCycle(RobotModel model, GaitTrack track)
    : model_(std::move(model)),
      track_(std::move(track)),
      leg_table_m_(2 * model_.leg_count(), kTableCount + 1) {
  Eigen::VectorXd target, rate;
  for (Index i = 0; i <= kTableCount; ++i) {
    track_.LegTarget(track_.duration() * static_cast<double>(i) / static_cast<double>(kTableCount),
                     &target,
                     &rate);
    leg_table_m_.col(i) = target;
  }
}

absl::StatusOr<PlannedCycle> PlannedCycle::Create(const PlannedCycleRequest& request) {
  GAITSHELF_ASSIGN_OR_RETURN(
      RobotModel model,
      RobotModel::Create(request.robot, request.surface, Scale(), request.leg_tables));
  GAITSHELF_ASSIGN_OR_RETURN(GaitTrack track, GaitTrack::Create(request.gait, model));
  return PlannedCycle(std::move(model), std::move(track));
}

double PlannedCycle::loaded_n() const {
  return ReplaySettings::kLoadedRatio * model_.total_mass() * kGravityMPerS2;
}

Eigen::VectorXd PlannedCycle::Position(double phase_ratio) const {
  const double knots = phase_ratio * track_.duration() / track_.knot_period();
  const double whole = std::floor(knots);
  const auto knot = static_cast<Index>(whole);
  const Eigen::VectorXd left = track_.Position(knot);
  Eigen::VectorXd position = left + (knots - whole) * (track_.Position(knot + 1) - left);
  Eigen::VectorXd target, rate;
  track_.LegTarget(phase_ratio * track_.duration(), &target, &rate);
  position.tail(target.size()) = target;
  return position;
}

double PlannedCycle::LegPosition(Index coordinate, double phase_ratio) const {
  const double place = WrapPhase(phase_ratio) * static_cast<double>(kTableCount);
  const auto left = static_cast<Index>(place);
  const double part = place - static_cast<double>(left);
  return (1.0 - part) * leg_table_m_(coordinate, left) + part * leg_table_m_(coordinate, left + 1);
}

bool PlannedCycle::IsLoaded(double phase_ratio, Index foot) const {
  return track_.IsLoaded(WrapPhase(phase_ratio) * track_.duration(), foot, loaded_n());
}

double PlannedCycle::DutyRatio(Index foot) const {
  Index count = 0;
  for (Index knot = 0; knot < track_.knot_count(); ++knot) {
    count += track_.FootForces(knot)[3 * foot + 2] > loaded_n() ? 1 : 0;
  }
  return static_cast<double>(count) / static_cast<double>(track_.knot_count());
}

double PlannedCycle::TouchdownPhase(Index foot) const {
  const Index count = track_.knot_count();
  Index best = -1, longest = 0, in_air = 0;
  // Twice around, so that a flight over the seam is seen whole.
  for (Index knot = 0; knot < 2 * count; ++knot) {
    if (track_.FootForces(knot % count)[3 * foot + 2] > loaded_n()) {
      if (in_air > longest && in_air < count) {
        longest = in_air;
        best = knot % count;
      }
      in_air = 0;
    } else {
      ++in_air;
    }
  }
  return best < 0 ? kNan : static_cast<double>(best) / static_cast<double>(count);
}

}  // namespace gaitshelf::solver
